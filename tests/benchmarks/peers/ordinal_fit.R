# R's ordinal on rows from a CSV file:  Rscript ordinal_fit.R ROWS.csv ANSWER.json TIMES ENOUGH NODES
# Fits up to TIMES times, or until ENOUGH seconds are spent; the shortest counts.
# NODES 1 is the Laplace approximation, more are adaptive quadrature.
suppressMessages(library(ordinal))
given <- commandArgs(trailingOnly = TRUE)
times <- as.integer(given[3])
enough <- as.numeric(given[4])
nodes <- as.integer(given[5])

rows <- read.csv(given[1])
columns <- setdiff(names(rows), c("rating", "unit"))
rows$rating <- factor(rows$rating, ordered = TRUE)
rows$unit <- factor(rows$unit)
formula <- as.formula(paste("rating ~", paste(columns, collapse = " + "), "+ (1 | unit)"))

caught <- character(0)
seconds <- numeric(0)
while (length(seconds) < times && sum(seconds) < enough) {
  taken <- system.time(
    fit <- withCallingHandlers(clmm(formula, data = rows, nAGQ = nodes), warning = function(problem) {
      caught <<- unique(c(caught, conditionMessage(problem)))
      invokeRestart("muffleWarning")
    })
  )
  seconds <- c(seconds, taken[["elapsed"]])
}

numbers <- function(values) paste0("[", paste(sprintf("%.17g", as.numeric(values)), collapse = ", "), "]")
note <- gsub("[\"\\\\]", "'", gsub("[[:space:]]+", " ", paste(caught, collapse = "; ")))
writeLines(sprintf(
  '{"version": "%s", "seconds": %.17g, "log_likelihood": %.17g, "thresholds": %s, "coefficients": %s, "unit_sd": %.17g, "note": "%s"}',
  as.character(packageVersion("ordinal")), min(seconds), as.numeric(logLik(fit)),
  numbers(fit$Theta), numbers(fit$beta[columns]), attr(VarCorr(fit)$unit, "stddev"), note
), given[2])
