// An extension of JupyterLab, in the form in which it loads one: the kit's own notebooks run by themselves when they
// are opened, and the one that is asked for as a page shows neither menus nor code. The server names both lists.

(() => {
  const known = JSON.parse(document.getElementById("jupyter-config-data").textContent);
  const runs = known.swinglabRuns || [];
  const page = known.swinglabPage || "";

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
    .jp-MarkdownOutput, .jp-OutputArea-output { padding-left: 0 !important; font-size: 15px; }
    .widget-hbox { flex-wrap: wrap; max-width: 100%; overflow: visible; }
    .widget-inline-hbox { max-width: 100%; height: auto; }
    .widget-dropdown, .widget-text { max-width: 100%; }
    .widget-dropdown select { min-width: 0; max-width: 90vw; }
    @media (max-width: 600px) { .widget-inline-hbox { flex-wrap: wrap; } .widget-inline-hbox > * { min-width: 0; } }`;

  const isReady = (panel) => {
    const kernel = panel.sessionContext.session && panel.sessionContext.session.kernel;
    return Boolean(kernel && kernel.connectionStatus === "connected");
  };

  // Running goes to the last cell. The reader stays where reading begins, unless something was pressed or turned.
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
      if (page) {
        const style = document.createElement("style");
        style.textContent = STYLE;
        document.head.append(style);
      }
      // A letter typed to choose from a list is no command to the notebook, which would change or delete the cell.
      document.addEventListener("focusin", (event) => {
        if (event.target.closest(".jupyter-widgets")) event.target.setAttribute("data-lm-suppress-shortcuts", "true");
      });
      // A slider's handle gets the name that stands beside it, for those who hear the page.
      const nameHandles = () => document.querySelectorAll(".noUi-handle:not([aria-label])").forEach((handle) => {
        const label = handle.closest(".jupyter-widgets")?.querySelector(".widget-label")?.textContent;
        if (label) handle.setAttribute("aria-label", label);
      });
      new MutationObserver(nameHandles).observe(document.body, { childList: true, subtree: true });
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
