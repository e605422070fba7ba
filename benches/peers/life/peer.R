# Reads lives (family, cause, entry_km, exit_km, failed), writes the cumulative hazard of every family and cause at each failure.
library(survival)
files <- commandArgs(trailingOnly = TRUE)
begin <- proc.time()[["elapsed"]]
lives <- read.csv(files[1], colClasses = c("factor", "factor", "numeric", "numeric", "integer"))
read <- proc.time()[["elapsed"]]
cells <- split(seq_len(nrow(lives)), list(lives$family, lives$cause), drop = TRUE)
out <- lapply(cells, function(rows) {
  cell <- lives[rows, ]
  if (sum(cell$failed) == 0) return(NULL)
  fit <- survfit(Surv(entry_km, exit_km, failed) ~ 1, data = cell, conf.type = "log-log", timefix = FALSE)
  at <- fit$n.event > 0
  data.frame(family = cell$family[1], cause = cell$cause[1], at = sprintf("%.3f", fit$time[at]),
             hazard = sprintf("%.17g", fit$cumhaz[at]))
})
fitted <- proc.time()[["elapsed"]]
write.csv(do.call(rbind, out), files[2], row.names = FALSE, quote = FALSE)
cat(sprintf("R: %.1f s reading, %.1f s curves\n", read - begin, fitted - read))
