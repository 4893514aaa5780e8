// An extension of JupyterLab, in the form in which it loads one: the kit's own notebooks run by themselves when they
// are opened, and the one that is asked for as a page shows neither menus nor code. The server names both lists.

(() => {
  const settings = document.getElementById("jupyter-config-data");
  const known = JSON.parse(settings.textContent);
  const runs = known.swinglabRuns || [];
  const page = known.swinglabPage || "";
  const isPage = page !== "" && known.mode === "single-document" && known.treePath === page;

  // Parts of JupyterLab that the page does not show: whole packages, then single parts of other packages. Loading them
  // takes half of the time until a notebook opens. This script is read before JupyterLab reads its settings.
  const of = (names, make) => names.split(" ").map(make);
  const UNUSED = [
    ...of(
      "audio cell-toolbar celltags completer console csvviewer debugger documentsearch extensionmanager filebrowser " +
      "fileeditor help htmlviewer hub imageviewer inspector launcher logconsole lsp mainmenu markdownviewer mermaid " +
      "metadataform pluginmanager running settingeditor shortcuts statusbar terminal theme-dark theme-dark-high-contrast " +
      "toc tooltip video workspaces javascript json json-lines pdf vega5",
      (name) => `@jupyterlab/${name}-extension`),
    ...of("context-menu dirty commands tree-resolver notfound faviconbusy info property-inspector logo top-bar " +
      "move-widget main", (name) => `@jupyterlab/application-extension:${name}`),
    ...of("announcements kernel-status kernels-settings licenses-client licenses-plugin notification palette " +
      "palette-restorer print running-sessions-status splash subshell-settings themes-palette-menu toggle-header " +
      "utilityCommands workspaces move-sections", (name) => `@jupyterlab/apputils-extension:${name}`),
    ...of("binding commands line-col-status", (name) => `@jupyterlab/codemirror-extension:${name}`),
    ...of("contexts path-status saving-status download open-browser-tab recents",
      (name) => `@jupyterlab/docmanager-extension:${name}`),
    ...of("execution-indicator export tools cell-counter-status mode-status trust-status log-output cloned-outputs " +
      "code-console copy-output kernel-status cursor-position completer search toc language-server " +
      "update-raw-mimetype metadata-editor active-cell-tool open-with-no-kernel",
      (name) => `@jupyterlab/notebook-extension:${name}`),
    "@jupyterlab/translation-extension:plugin",
  ];

  // Show the stored results until the live page has a figure. A reader who has started to read decides when to go on.
  const FIRST = "box-sizing: border-box; position: fixed; inset: 0; z-index: 600; overflow: auto; padding: 12px 24px; " +
    "background: #fff; color: #111; font: 15px/1.4 system-ui, sans-serif;";
  const LONGEST_S = 60;
  const isDrawn = (node) => node.getBoundingClientRect().width > 150 && (node.tagName !== "IMG" || node.complete);
  const isLive = () => document.querySelector(".jp-Dialog") !== null
    || [...document.querySelectorAll(".jp-OutputArea :is(img, canvas, svg[aria-label])")].some(isDrawn);
  const showFirst = async () => {
    const reply = await fetch(`${known.baseUrl}swinglab/first`);
    const { html } = reply.ok ? await reply.json() : {};
    if (!html || isLive()) return;
    const first = document.createElement("main");
    first.id = "swinglab-first";
    first.style.cssText = FIRST;
    first.innerHTML = html;
    for (const image of first.querySelectorAll("img")) image.style.maxWidth = "100%";
    document.body.append(first);
    let isRead = false;
    const reading = () => { isRead = true; };
    for (const kind of ["wheel", "pointerdown", "keydown", "touchstart"]) {
      first.addEventListener(kind, reading, { once: true, passive: true });
    }
    const started = performance.now();
    const timer = setInterval(() => {
      if (!isLive() && performance.now() - started < 1000 * LONGEST_S) return;
      clearInterval(timer);
      if (!isRead) return first.remove();
      const status = first.querySelector("[role=status]");
      status.textContent = "The page with its choosers is open. ";
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = "Go to it";
      button.addEventListener("click", () => first.remove());
      status.append(button);
      first.scrollTop = 0;
    }, 100);
  };
  if (isPage) {
    const disabledExtensions = [...(known.disabledExtensions || []), ...UNUSED];
    settings.textContent = JSON.stringify({ ...known, disabledExtensions });
    showFirst();
  }

  const STYLE = `
    .jp-NotebookPanel-notebook { position: fixed !important; inset: 0 !important; width: 100vw !important;
      height: 100vh !important; z-index: 500; background: #fff; overflow: auto !important; }
    #main, #jp-main-content-panel, #jp-main-vsplit-panel, #jp-main-split-panel, #jp-main-dock-panel, .jp-NotebookPanel {
      contain: none !important; }
    .jp-SideBar, .lm-DockPanel-tabBar, #jp-main-statusbar, #jp-left-stack, #jp-right-stack, #jp-top-panel, #jp-menu-panel, #jp-top-bar, #jp-bottom-panel, .jp-NotebookPanel-toolbar, .jp-Notebook-footer,
    .jp-CodeCell .jp-Cell-inputWrapper, .jp-InputPrompt, .jp-OutputPrompt, .jp-cell-toolbar, .jp-Collapser,
    .jp-InputPlaceholder { display: none !important; }
    .jp-WindowedPanel-viewport, .jp-NotebookPanel-notebook { padding: 12px !important; box-sizing: border-box; }
    .jp-Cell { padding: 4px 0 !important; border: none !important; }
    .jp-Cell .jp-MarkdownOutput { border: none !important; }
    .jp-MarkdownOutput, .jp-OutputArea-output { padding-left: 0 !important; font-size: 15px; }
    .widget-dropdown select { max-width: 90vw; }`;
  // Layout of widgets in every notebook, also on a narrow screen: the text of a button is not cut off, an option stays
  // next to its circle, and a label goes above a list or slider if there is no room next to it.
  const WIDGETS = `
    .widget-hbox { flex-wrap: wrap; max-width: 100%; overflow: visible; }
    .widget-inline-hbox { max-width: 100%; height: auto; }
    .widget-dropdown, .widget-text, .jupyter-button { max-width: 100%; }
    .widget-dropdown select { min-width: 0; }
    .jupyter-button { height: auto; min-height: 28px; white-space: normal; line-height: 1.3; padding: 4px 10px; }
    .widget-radio-box label { display: flex; flex-direction: row-reverse; justify-content: flex-end; align-items: center;
      height: auto; white-space: normal; }
    .widget-radio-box input { flex: none; }
    @media (max-width: 600px) {
      .widget-slider, .widget-text, .widget-select { flex-wrap: wrap; }
      .widget-slider > .widget-label { width: 100% !important; text-align: left; }
      .widget-slider .slider-container { flex: 1 1 60%; }
      .widget-text > input, .widget-select > select { flex: 1 1 5em; min-width: 5em; }
      .widget-dropdown > .widget-label { flex: 0 1 auto; height: auto; min-width: min-content; overflow: visible;
        white-space: normal; line-height: 1.3; text-align: left; }
      .widget-dropdown > select { flex: 1 1 6em; min-width: 6em; } }`;

  const isReady = (panel) => {
    const kernel = panel.sessionContext.session && panel.sessionContext.session.kernel;
    return Boolean(kernel && kernel.connectionStatus === "connected");
  };

  // Running all cells scrolls to the last one. Keep the top of the notebook in view until the reader scrolls or presses
  // something.
  const runFromTop = (app, panel) => {
    const outer = panel.content.node.querySelector(".jp-WindowedPanel-outer") || panel.content.node;
    let isTouched = false;
    const touched = () => { isTouched = true; };
    const stay = () => { if (!isTouched) outer.scrollTop = 0; };
    for (const kind of ["wheel", "pointerdown", "keydown", "touchstart"]) {
      panel.node.addEventListener(kind, touched, { once: true, capture: true, passive: true });
    }
    outer.addEventListener("scroll", stay);
    app.commands.execute("notebook:run-all-cells").finally(() => {
      if (!isTouched) panel.content.activeCellIndex = 0;
      setTimeout(() => outer.removeEventListener("scroll", stay), 2000);
    });
  };

  const plugin = {
    id: "swinglab-page:plugin",
    autoStart: true,
    activate(app) {
      // Messages of widgets wait until the running cell has ended. By default JupyterLab handles them in a thread of
      // their own, where two figures that are drawn at the same time disturb each other.
      app.serviceManager.kernels.commsOverSubshells = "disabled";
      const style = document.createElement("style");
      style.textContent = page ? WIDGETS + STYLE : WIDGETS;
      document.head.append(style);
      // A letter typed to choose from a list must not be a command to the notebook, which could delete the cell.
      document.addEventListener("focusin", (event) => {
        if (event.target.closest(".jupyter-widgets")) event.target.setAttribute("data-lm-suppress-shortcuts", "true");
      });
      // Give a slider's handle the label next to it as its name, for screen readers.
      const nameHandles = () => document.querySelectorAll(".noUi-handle:not([aria-label])").forEach((handle) => {
        const label = handle.closest(".jupyter-widgets")?.querySelector(".widget-label")?.textContent;
        if (label) handle.setAttribute("aria-label", label);
      });
      new MutationObserver(nameHandles).observe(document.body, { childList: true, subtree: true });
      if (isPage) {
        app.started.then(() => app.commands.execute("docmanager:open", { path: page, factory: "Notebook" }));
      }
      app.docRegistry.addWidgetExtension("Notebook", {
        createNew(panel, context) {
          if (!runs.includes(context.path)) return undefined;
          const timer = setInterval(() => {
            if (panel.isDisposed) return clearInterval(timer);
            if (!panel.isVisible || app.shell.currentWidget !== panel || !context.isReady || !isReady(panel)) return;
            clearInterval(timer);
            runFromTop(app, panel);
          }, 100);
          return undefined;
        },
      });
    },
  };

  window._JUPYTERLAB = window._JUPYTERLAB || {};
  window._JUPYTERLAB["swinglab-page"] = {
    init() {},
    get: () => Promise.resolve(() => ({ __esModule: true, default: plugin })),
  };
})();
