# Reads lives (family, cause, entry_km, exit_km, failed), writes the cumulative hazard of every family and cause at each failure.
library(survival)
files <- commandArgs(trailingOnly = TRUE)
lives <- read.csv(files[1])
cells <- split(lives, list(lives$family, lives$cause), drop = TRUE)
out <- lapply(cells, function(cell) {
  if (sum(cell$failed) == 0) return(NULL)
  fit <- survfit(Surv(entry_km, exit_km, failed) ~ 1, data = cell, conf.type = "log-log", timefix = FALSE)
  at <- fit$n.event > 0
  data.frame(family = cell$family[1], cause = cell$cause[1], at = sprintf("%.3f", fit$time[at]),
             hazard = sprintf("%.17g", fit$cumhaz[at]))
})
write.csv(do.call(rbind, out), files[2], row.names = FALSE, quote = FALSE)
