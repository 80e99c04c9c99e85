# What R's own aov() says of data sets that come with R and with its package MASS, as JSON on standard output:
#   Rscript tests/tools/aov.R > fixtures/published/aov.json
# Each set has its plots (value, treatment, block, whole, sub) and R's table, its rows under the names that waterturn
# gives the terms.
options(warn = 2)

quoted <- function(x) if (is.null(x)) "\"\"" else paste0("\"", x, "\"")
number <- function(x) ifelse(is.na(x), "null", sprintf("%.15g", x))

plots <- function(value, treatment, block = "", whole = "", sub = "")
  paste0("{\"value\": ", number(value), ", \"treatment\": \"", treatment, "\", \"block\": \"", block,
         "\", \"whole\": \"", whole, "\", \"sub\": \"", sub, "\"}", collapse = ",\n      ")

# Rows of one table, or of the tables of several error strata.
rows <- function(table, names)
  paste0("{\"term\": \"", names, "\", \"df\": ", table$Df, ", \"sum_square\": ", number(table$`Sum Sq`),
         ", \"f\": ", number(table$`F value`), ", \"p\": ", number(table$`Pr(>F)`), "}")

frame <- function(table) {
  table <- as.data.frame(unclass(table), check.names = FALSE)
  for (name in c("F value", "Pr(>F)")) if (is.null(table[[name]])) table[[name]] <- NA
  table
}

# Half the width of a 95 % interval of the mean of a treatment with n plots.
half <- function(n, square, df) qt(0.975, df) * sqrt(square / n)

set <- function(name, source, layout, plots, rows, means)
  paste0("  {\n    \"name\": \"", name, "\",\n    \"source\": \"", source, "\",\n    \"layout\": \"", layout,
         "\",\n    \"plots\": [\n      ", plots, "],\n    \"table\": [\n      ", paste(rows, collapse = ",\n      "),
         "],\n    \"means\": [\n      ", paste(means, collapse = ",\n      "), "]\n  }")

one_way <- function(name, value, treatment) {
  table <- frame(summary(aov(value ~ treatment))[[1]])
  n <- tapply(value, treatment, length)
  mean <- tapply(value, treatment, mean)
  wide <- half(n, table$`Mean Sq`[2], table$Df[2])
  set(name, paste0("R datasets::", name), "completely randomised", plots(value, treatment),
      rows(table, c("treatment", "error")),
      paste0("{\"name\": \"", names(mean), "\", \"mean\": ", number(mean), ", \"low\": ", number(mean - wide),
             ", \"high\": ", number(mean + wide), "}"))
}

blocks <- function(name, value, treatment, block) {
  table <- frame(summary(aov(value ~ block + treatment))[[1]])
  n <- tapply(value, treatment, length)
  mean <- tapply(value, treatment, mean)
  wide <- half(n, table$`Mean Sq`[3], table$Df[3])
  set(name, paste0("R datasets::", name), "randomised blocks", plots(value, treatment, paste0("b", block)),
      rows(table, c("block", "treatment", "error")),
      paste0("{\"name\": \"", names(mean), "\", \"mean\": ", number(mean), ", \"low\": ", number(mean - wide),
             ", \"high\": ", number(mean + wide), "}"))
}

split <- function() {
  d <- MASS::oats
  all <- summary(aov(Y ~ V * N + Error(B / V), d))
  b <- frame(all[[1]][[1]]); v <- frame(all[[2]][[1]]); n <- frame(all[[3]][[1]])
  # R leaves the blocks untested; the test is that of their mean square against the error of whole plots.
  mean <- tapply(d$Y, d$V, mean)
  wide <- half(24, v$`Mean Sq`[2], v$Df[2])
  b$`F value` <- b$`Mean Sq` / v$`Mean Sq`[2]
  b$`Pr(>F)` <- pf(b$`F value`, b$Df, v$Df[2], lower.tail = FALSE)
  set("oats", "R MASS::oats (F. Yates, 1935)", "split plot",
      plots(d$Y, paste(d$V, d$N), d$B, d$V, d$N),
      c(rows(b, "block"), rows(v, c("whole plot", "error of whole plots")),
        rows(n, c("sub-plot", "whole plot x sub-plot", "error"))),
      paste0("{\"name\": \"", names(mean), "\", \"mean\": ", number(mean), ", \"low\": ", number(mean - wide),
             ", \"high\": ", number(mean + wide), "}"))
}

sets <- c(one_way("PlantGrowth", PlantGrowth$weight, PlantGrowth$group),
          one_way("chickwts", chickwts$weight, chickwts$feed),
          one_way("InsectSprays", InsectSprays$count, InsectSprays$spray),
          blocks("npk", npk$yield, ifelse(npk$N == "1", "nitrogen", "none"), npk$block),
          blocks("warpbreaks", warpbreaks$breaks, warpbreaks$wool, warpbreaks$tension),
          split())
cat("[\n", paste(sets, collapse = ",\n"), "\n]\n", sep = "")
