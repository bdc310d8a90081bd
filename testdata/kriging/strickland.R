# Reference results for Strickland's vines: strickland.json.
# Run in this folder with R 4.2.2, sp 1.6-0, gstat 2.1-0, jsonlite 1.8.4:
#   Rscript strickland.R
suppressMessages({library(sp); library(gstat); library(jsonlite)})

d <- read.csv("../strickland/strickland-1932-vine-yield.csv")
d$x <- (d$col - 1) * 10 * 0.3048 # rows 10 ft apart
d$y <- (d$row - 1) * 8 * 0.3048  # vines 8 ft apart
d$v <- d$yield * 0.45359237      # lb to kg
here <- d[!is.na(d$v), ]
gone <- d[is.na(d$v), ]
h <- here; coordinates(h) <- ~x+y
g <- gone; coordinates(g) <- ~x+y
edges <- seq(2.5, 25, 2.5)

both <- function(k) data.frame(pred = k$var1.pred, var = k$var1.var)
loo <- function(k) list(n = nrow(k), mean_error = mean(k$residual), rmse = sqrt(mean(k$residual^2)),
  msdr = mean(k$residual^2 / k$var1.var), cor_obs_pred = cor(k$observed, k$observed - k$residual))
bins <- function(v) data.frame(np = v$np, dist = v$dist, gamma = v$gamma)

v <- variogram(v ~ 1, h, boundaries = c(0, edges))
along <- variogram(v ~ 1, h, boundaries = c(0, edges), alpha = c(0, 90), tol.hor = 40) # no pair lies just so
fit <- fit.variogram(v, vgm(0.6, "Exp", 4, 0.7), fit.method = 7)

m <- vgm(0.45, "Sph", 12, nugget = 0.75)
ma <- vgm(0.45, "Exp", 9, nugget = 0.75, anis = c(0, 0.5))

# A constant error of reading of 0.3 kg2 besides the nugget.
me <- vgm(0.3, "Err", 0, add.to = vgm(0.45, "Sph", 12, nugget = 0.75))

# Errors that differ from vine to vine: the equations themselves.
E <- 0.1 * (seq_len(nrow(here)) %% 5)
D <- as.matrix(dist(here[, c("x", "y")]))
cova <- function(D) ifelse(D == 0, 1.2, 0.45 * pmax(0, 1 - 1.5 * D / 12 + 0.5 * (D / 12)^3) * (D < 12))
C <- cova(D) + diag(E)
A <- rbind(cbind(C, 1), c(rep(1, nrow(here)), 0))
at <- rbind(gone[, c("x", "y")], here[1:6, c("x", "y")])
differing <- t(sapply(seq_len(nrow(at)), function(i) {
  d0 <- sqrt((here$x - at$x[i])^2 + (here$y - at$y[i])^2)
  b <- c(cova(d0), 1)
  w <- solve(A, b)
  c(pred = sum(w[seq_len(nrow(here))] * here$v), var = 1.2 - sum(w * b))
}))

# Regression-kriging: trend on the place in the row by lm, residuals kriged.
trend <- lm(v ~ row, here)
here$res <- residuals(trend)
hr <- here; coordinates(hr) <- ~x+y
kr <- krige(res ~ 1, hr, g, m, debug.level = 0)
pr <- predict(trend, gone, se.fit = TRUE)

out <- list(
  versions = list(R = R.version.string, sp = as.character(packageVersion("sp")), gstat = as.character(packageVersion("gstat"))),
  variogram = bins(v), along = bins(along[along$dir.hor == 0, ]), across = bins(along[along$dir.hor == 90, ]),
  fit_exp = list(nugget = fit$psill[1], sill = fit$psill[2], range = fit$range[2], objective = attr(fit, "SSErr")),
  all = both(krige(v ~ 1, h, g, m, debug.level = 0)),
  within8 = both(krige(v ~ 1, h, g, m, maxdist = 8, debug.level = 0)),
  along_rows = both(krige(v ~ 1, h, g, ma, debug.level = 0)),
  loo_all = loo(krige.cv(v ~ 1, h, m, verbose = FALSE)),
  loo_within8 = loo(krige.cv(v ~ 1, h, m, maxdist = 8, verbose = FALSE)),
  constant_error = both(krige(v ~ 1, h, g, me, debug.level = 0)),
  constant_error_at_vines = both(krige(v ~ 1, h, h, me, debug.level = 0)),
  differing_errors = as.data.frame(differing),
  trend = list(coef = unname(coef(trend)), se = unname(summary(trend)$coefficients[, 2]), sigma = summary(trend)$sigma, r2 = summary(trend)$r.squared),
  regression = data.frame(pred = pr$fit + kr$var1.pred, var = pr$se.fit^2 + kr$var1.var),
  below_2kg = pnorm(2, krige(v ~ 1, h, g, m, debug.level = 0)$var1.pred, sqrt(krige(v ~ 1, h, g, m, debug.level = 0)$var1.var))
)
write(toJSON(out, digits = 14, auto_unbox = TRUE, pretty = TRUE, dataframe = "rows"), "strickland.json")
