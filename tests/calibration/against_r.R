# R's answers to the questions in a file of jobs; see against_r.py, which writes the jobs and compares.
#
#   Rscript tests/calibration/against_r.R jobs.json answers.json
#
# A job: id, ask (a name in `answers` below), data (a CSV file), text (columns in words) and what the question needs.
suppressPackageStartupMessages({
  library(lme4); library(lmerTest); library(nlme); library(ordinal); library(clubSandwich)
  library(geepack); library(effectsize); library(emmeans); library(psych); library(jsonlite)
})
invisible(Sys.setlocale("LC_COLLATE", "C"))
emm_options(msg.interaction = FALSE)

sum_of <- function(terms) paste(c("1", unlist(terms)), collapse = " + ")

# Best of three searches, so that a difference is not one of convergence alone.
mixed <- function(job, d) {
  random <- sprintf("(%s | golfer)", sum_of(job$slopes))
  if (!is.null(job$session)) random <- paste(random, sprintf("+ (1 | golfer:%s)", job$session))
  formula <- as.formula(sprintf("%s ~ %s + %s", job$outcome, sum_of(job$predictors), random))
  reml <- is.null(job$method) || job$method == "REML"
  if (!is.null(job$session)) d[[job$session]] <- factor(d[[job$session]])
  d$golfer <- factor(d$golfer)
  ignore <- list(check.nobs.vs.nRE = "ignore", check.scaleX = "ignore", check.conv.grad = "ignore",
                 check.conv.hess = "ignore", check.conv.singular = "ignore")
  how <- list(
    c(list("nloptwrap"), ignore),
    c(list("nloptwrap", optCtrl = list(xtol_abs = 1e-11, ftol_abs = 1e-13, maxeval = 1e5)), ignore),
    c(list("bobyqa", optCtrl = list(maxfun = 1e5, rhoend = 1e-10)), ignore))
  fits <- lapply(how, function(h) tryCatch(suppressWarnings(suppressMessages(
    lmerTest::lmer(formula, d, REML = reml, control = do.call(lmerControl, h)))), error = function(e) NULL))
  fits <- Filter(Negate(is.null), fits)
  value <- sapply(fits, function(f) -2 * as.numeric(logLik(f)))
  fit <- fits[[which.min(value)]]
  table <- coef(suppressWarnings(summary(fit)))
  own <- VarCorr(fit)
  list(names = rownames(table), estimate = table[, "Estimate"], standard_error = table[, "Std. Error"],
       df = table[, "df"], t = table[, "t value"], p = table[, "Pr(>|t|)"], criterion = min(value),
       default_criterion = value[1], log_likelihood = -min(value) / 2, residual_variance = sigma(fit)^2,
       random_covariance = matrix(own$golfer, nrow(own$golfer)),
       session_variance = if (is.null(job$session)) NULL else own[[paste0("golfer:", job$session)]][1],
       theta = getME(fit, "theta"))
}

clustered <- function(job, d) {
  names <- c(job$outcome, unlist(job$predictors), "golfer")
  d <- d[complete.cases(d[, names]), ]
  fit <- lm(as.formula(sprintf("%s ~ %s", job$outcome, sum_of(job$predictors))), d)
  covariance <- vcovCR(fit, cluster = factor(d$golfer), type = "CR2")
  test <- coef_test(fit, covariance, test = "Satterthwaite")
  answer <- list(names = names(coef(fit)), estimate = test$beta, standard_error = test$SE,
                 df = if (is.null(test$df_Satt)) test$df else test$df_Satt,
                 p = if (is.null(test$p_Satt)) test$p_val else test$p_Satt)
  if (length(coef(fit)) > 2) {
    joint <- Wald_test(fit, constrain_zero(2:length(coef(fit))), covariance, test = "HTZ")
    answer$joint <- list(F = joint$Fstat, df1 = joint$df_num, df2 = joint$df_denom, p = joint$p_val)
  }
  answer
}

# Predictors coded first, then means: a text column becomes the golfer's share.
golfer_means <- function(job, d) {
  d <- d[complete.cases(d[, c(job$outcome, unlist(job$predictors), "golfer")]), ]
  x <- model.matrix(as.formula(paste("~", sum_of(job$predictors))), d)
  means <- aggregate(cbind(outcome_ = d[[job$outcome]], x[, -1, drop = FALSE]), list(golfer = d$golfer), mean)
  fit <- lm(outcome_ ~ ., means[, -1, drop = FALSE])
  table <- coef(summary(fit))
  list(names = rownames(table), estimate = table[, 1], standard_error = table[, 2], t = table[, 3], p = table[, 4],
       df = rep(df.residual(fit), nrow(table)))
}

two_groups <- function(job, d) {
  d <- d[complete.cases(d[, c(job$value, job$between, "golfer")]), ]
  means <- aggregate(d[[job$value]], list(golfer = d$golfer, group = d[[job$between]]), mean)
  groups <- sort(unique(as.character(means$group)))
  a <- means$x[means$group == groups[1]]; b <- means$x[means$group == groups[2]]
  test <- t.test(b, a)
  g <- hedges_g(b, a, pooled_sd = TRUE, verbose = FALSE)
  sums <- combn(length(a) + length(b), length(b))
  exact <- if (ncol(sums) <= 50000) {
    both <- c(a, b)
    moved <- apply(sums, 2, function(i) abs(mean(both[i]) - mean(both[-i])))
    mean(moved >= abs(mean(b) - mean(a)) - 1e-9 * max(abs(both - mean(both))))
  } else NULL
  list(difference = mean(b) - mean(a), standard_error = test$stderr, df = unname(test$parameter),
       t = unname(test$statistic), p = test$p.value, ci_low = test$conf.int[1], ci_high = test$conf.int[2],
       hedges_g = g$Hedges_g, hedges_g_low = g$CI_low, hedges_g_high = g$CI_high, permutation_p = exact)
}

adjusted <- function(job, d) {
  d <- d[complete.cases(d[, c(job$outcome, job$covariate, job$between)]), ]
  same <- lm(as.formula(sprintf("%s ~ %s + %s", job$outcome, job$covariate, job$between)), d)
  own <- lm(as.formula(sprintf("%s ~ %s * %s", job$outcome, job$covariate, job$between)), d)
  means <- as.data.frame(emmeans(same, job$between))
  pairs <- as.data.frame(contrast(emmeans(same, job$between), "trt.vs.ctrl1"))
  list(levels = as.character(means[[1]]), estimate = means$emmean, standard_error = means$SE,
       ci_low = means$lower.CL, ci_high = means$upper.CL,
       difference = pairs$estimate, difference_error = pairs$SE, slopes_p = anova(same, own)[2, "Pr(>F)"],
       slopes_F = anova(same, own)[2, "F"], group_p = car::Anova(same)[job$between, "Pr(>F)"])
}

# Every pattern of signs, row by row.
paired_signs <- function(job, d) {
  x <- d$difference
  flips <- as.matrix(expand.grid(rep(list(c(-1, 1)), length(x))))
  list(p = mean(abs(flips %*% x) >= abs(sum(x)) * (1 - 1e-12)), t_p = t.test(x)$p.value)
}

ordered_outcome <- function(job, d) {
  d <- d[complete.cases(d[, c(job$outcome, unlist(job$predictors), "golfer")]), ]
  d[[job$outcome]] <- factor(d[[job$outcome]], levels = intersect(unlist(job$levels), unique(d[[job$outcome]])), ordered = TRUE)
  d$golfer <- factor(d$golfer)
  fit <- suppressWarnings(clmm(as.formula(sprintf("%s ~ %s + (1 | golfer)", job$outcome, sum_of(job$predictors))), d,
                               nAGQ = 21, control = clmm.control(gradTol = 1e-7, maxIter = 500, maxLineIter = 200)))
  table <- coef(summary(fit))
  list(names = rownames(table), estimate = table[, 1], standard_error = table[, 2],
       random_variance = as.numeric(VarCorr(fit)$golfer), log_likelihood = as.numeric(logLik(fit)),
       gradient = fit$optRes$convergence)
}

# geeglm's estimates, at a given correlation where the job has one; then Mancl & DeRouen's covariance at them.
yes_or_no <- function(job, d) {
  d <- d[complete.cases(d[, c(job$outcome, unlist(job$predictors), "golfer")]), ]
  d <- d[order(d$golfer), ]
  d$golfer_ <- as.integer(factor(d$golfer))
  formula <- as.formula(sprintf("%s ~ %s", job$outcome, sum_of(job$predictors)))
  exact <- geese.control(epsilon = 1e-12, maxit = 500)
  fit <- geeglm(formula, binomial, d, id = golfer_, corstr = "exchangeable", control = exact)
  own_alpha <- alpha <- unname(fit$geese$alpha)
  if (!is.null(job$alpha)) {
    alpha <- job$alpha
    n <- tabulate(d$golfer_)
    fit <- geeglm(formula, binomial, d, id = golfer_, corstr = "fixed", zcor = rep(alpha, sum(n * (n - 1) / 2)), control = exact)
  }
  x <- model.matrix(fit); mu <- fitted(fit); y <- fit$y
  parts <- lapply(split(seq_along(y), d$golfer_), function(i) {
    D <- x[i, , drop = FALSE] * (mu[i] * (1 - mu[i])); s <- sqrt(mu[i] * (1 - mu[i]))
    V <- outer(s, s) * (alpha + (1 - alpha) * diag(length(i)))
    list(D = D, V = V, r = y[i] - mu[i])
  })
  bread <- solve(Reduce(`+`, lapply(parts, function(g) t(g$D) %*% solve(g$V, g$D))))
  meat <- Reduce(`+`, lapply(parts, function(g) {
    H <- g$D %*% bread %*% t(g$D) %*% solve(g$V)
    s <- t(g$D) %*% solve(g$V, solve(diag(nrow(H)) - H, g$r))
    s %*% t(s)
  }))
  list(names = names(coef(fit)), estimate = coef(fit), standard_error = sqrt(diag(bread %*% meat %*% bread)),
       sandwich = coef(summary(fit))[, "Std.err"], alpha = own_alpha,
       glm = unname(coef(glm(formula(fit), binomial, d, control = glm.control(1e-12, 100)))))
}

series <- function(job, d) {
  names <- c(job$outcome, unlist(job$predictors), job$order, job$session)
  d <- d[complete.cases(d[, names]), ]
  form <- if (is.null(job$session)) sprintf("~ %s", job$order) else sprintf("~ %s | %s", job$order, job$session)
  # corCAR1 takes gaps and fractions of a step, corAR1 a negative correlation.
  kinds <- list(corAR1 = corAR1(form = as.formula(form)), corCAR1 = corCAR1(0.2, form = as.formula(form)))
  fits <- lapply(kinds, function(k) tryCatch(gls(
    as.formula(sprintf("%s ~ %s", job$outcome, sum_of(job$predictors))), d, correlation = k, method = "REML",
    control = glsControl(tolerance = 1e-12, msTol = 1e-14, maxIter = 500, msMaxIter = 500)), error = function(e) NULL))
  fits <- Filter(Negate(is.null), fits)
  fit <- fits[[which.max(sapply(fits, function(f) as.numeric(logLik(f))))]]
  list(names = names(coef(fit)), estimate = coef(fit), standard_error = sqrt(diag(vcov(fit))),
       autocorrelation = unname(coef(fit$modelStruct$corStruct, unconstrained = FALSE)),
       log_likelihood = as.numeric(logLik(fit)), residual_variance = sigma(fit)^2)
}

one_way <- function(job, d) {
  d <- d[complete.cases(d[, c(job$value, "golfer")]), ]
  n <- table(d$golfer)
  fit <- suppressMessages(lme4::lmer(as.formula(sprintf("%s ~ 1 + (1 | golfer)", job$value)), d, control = lmerControl(
    "bobyqa", optCtrl = list(rhoend = 1e-10, maxfun = 1e5), check.conv.singular = "ignore", check.nobs.vs.nRE = "ignore")))
  between <- as.numeric(VarCorr(fit)$golfer); within <- sigma(fit)^2
  answer <- list(icc = between / (between + within), sem = sqrt(within), mdc = qnorm(0.975) * sqrt(2 * within))
  if (length(unique(n)) == 1) {
    wide <- t(sapply(split(d[[job$value]], d$golfer), c))
    one <- suppressWarnings(suppressMessages(ICC(wide, lmer = FALSE)))$results[1, ]
    answer$balanced <- list(icc = one$ICC, ci_low = one[["lower bound"]], ci_high = one[["upper bound"]])
  }
  answer
}

two_methods <- function(job, d) {
  d <- d[complete.cases(d[, c("a", "b")]), ]
  one <- t.test(d$a - d$b); s <- sd(d$a - d$b); n <- nrow(d)
  half <- qt(0.975, n - 1) * s * sqrt(1 / n + qnorm(0.975)^2 / (2 * (n - 1)))
  list(bias = unname(one$estimate), bias_low = one$conf.int[1], bias_high = one$conf.int[2], sd = s,
       lower = mean(d$a - d$b) - qnorm(0.975) * s, upper = mean(d$a - d$b) + qnorm(0.975) * s, half = half)
}

chances <- function(job, d) {
  sd <- sqrt(job$between_sd^2 + job$within_sd^2 / job$swings)
  list(power = power.t.test(job$golfers_per_group, job$difference, sd, strict = TRUE)$power)
}

adjusted_p <- function(job, d) list(holm = p.adjust(unlist(job$p), "holm"), benjamini_hochberg = p.adjust(unlist(job$p), "BH"))

# Wild bootstrap-t from the definition: null imposed, all patterns of signs, CR0 errors.
wild <- function(job, d) {
  d <- d[complete.cases(d[, c(job$outcome, unlist(job$predictors), "golfer")]), ]
  x <- model.matrix(as.formula(paste("~", sum_of(job$predictors))), d)
  y <- d[[job$outcome]]; g <- as.integer(factor(d$golfer)); k <- match(job$term, colnames(x))
  bread <- solve(crossprod(x))
  t_of <- function(y) {
    b <- bread %*% crossprod(x, y)
    s <- rowsum(x * as.vector(y - x %*% b), g)
    b[k] / sqrt((bread %*% crossprod(s) %*% bread)[k, k])
  }
  null <- lm.fit(x[, -k, drop = FALSE], y)
  signs <- as.matrix(expand.grid(rep(list(c(-1, 1)), max(g))))
  t <- apply(signs, 1, function(s) t_of(null$fitted.values + s[g] * null$residuals))
  list(p = mean(abs(t) >= abs(t_of(y)) * (1 - 1e-9)), estimate = (bread %*% crossprod(x, y))[k])
}

timing <- function(job, d) {
  d$golfer <- factor(d$golfer)
  quickest <- function(work) min(sapply(seq_len(job$times), function(i) system.time(work())[["elapsed"]]))
  formula <- angle ~ tilt + (tilt | golfer)
  list(lme4 = quickest(function() suppressMessages(lme4::lmer(formula, d))),
       with_df = quickest(function() suppressMessages(summary(lmerTest::lmer(formula, d)))))
}

answers <- list(mixed = mixed, clustered = clustered, golfer_means = golfer_means, two_groups = two_groups,
                adjusted = adjusted, paired_signs = paired_signs, ordered_outcome = ordered_outcome,
                yes_or_no = yes_or_no, series = series, one_way = one_way, two_methods = two_methods,
                chances = chances, adjusted_p = adjusted_p, wild = wild, timing = timing)

# One of R's own data sets, written down for the other side to read: factors as words, the golfer's column named so.
write_own_set <- function(job) {
  parts <- strsplit(job$set, "::")[[1]]
  held <- new.env()
  data(list = parts[2], package = parts[1], envir = held)
  d <- as.data.frame(if (exists(parts[2], held, inherits = FALSE)) held[[parts[2]]] else get(parts[2]))
  for (name in names(job$where)) d <- d[as.character(d[[name]]) %in% unlist(job$where[[name]]), ]
  for (name in names(d)) if (is.factor(d[[name]])) d[[name]] <- as.character(d[[name]])
  if (!is.null(job$golfer)) d$golfer <- d[[job$golfer]]
  for (name in unlist(job$text)) d[[name]] <- paste0("is ", d[[name]])
  write.csv(d, job$data, row.names = FALSE)
}

args <- commandArgs(TRUE)
jobs <- fromJSON(args[1], simplifyVector = FALSE)
done <- lapply(jobs, function(job) {
  if (!is.null(job$set)) write_own_set(job)
  d <- if (is.null(job$data)) NULL else read.csv(job$data, check.names = FALSE, encoding = "UTF-8")
  for (name in unlist(job$text)) d[[name]] <- factor(d[[name]])
  found <- tryCatch(answers[[job$ask]](job, d), error = function(e) list(error = conditionMessage(e)))
  c(list(id = job$id), lapply(found, function(v) if (is.null(v)) NULL else v))
})
used <- c("lme4", "lmerTest", "nlme", "ordinal", "clubSandwich", "geepack", "effectsize", "emmeans", "psych", "car")
versions <- c(R = paste(R.version$major, R.version$minor, sep = "."),
              sapply(used, function(p) as.character(packageVersion(p))))
write(toJSON(list(versions = as.list(versions), answers = done), digits = 17, auto_unbox = TRUE, null = "null"), args[2])
