# SPDX-License-Identifier: MIT
# The filter and the smoother of daemon/litter/trend.c against R's own (stats::KalmanRun, KalmanSmooth; Durbin & Koopman
# 2001 is their source), on ChickWeight (irregular: days are missing between weighings), on a regular series and on
# random ones: log-likelihood, filtered and smoothed states and their covariances, to 1e-8. The noise matrix V of R is
# one day's, days without a weighing are NA; ours goes over them in one step. And the normal log density against dnorm.
# usage: Rscript check_trend.R GROW
grow <- commandArgs(TRUE)[1]
limit <- 1e-8
wrong <- 0
checked <- 0

ask <- function(args, lines) {
  told <- system2(grow, args, input = lines, stdout = TRUE)
  if (!is.null(attr(told, "status"))) stop("grow failed")
  told
}

number <- function(x) formatC(x, digits = 17, format = "g")

compare <- function(name, told, reference) compare_to(name, told, reference, limit)

compare_to <- function(name, told, reference, limit) {
  d <- max(abs(told - reference) / pmax(1, abs(reference)))
  checked <<- checked + length(reference)
  if (!is.finite(d) || d > limit) {
    cat(sprintf("%s: differs by %g\n", name, d))
    wrong <<- wrong + 1
  }
}

both <- function(name, days, z, q_level, q_rate, a, P, r) {
  told <- ask(c("trend", number(c(q_level, q_rate, a, P[1, 1], P[1, 2], P[2, 2], r))), paste(number(days), number(z)))
  told <- as.matrix(read.table(text = told))
  y <- rep(NA_real_, max(days) - min(days) + 1)
  at <- days - min(days) + 1
  y[at] <- z
  T <- matrix(c(1, 0, 1, 1), 2)
  V <- q_rate * matrix(c(1 / 3, 1 / 2, 1 / 2, 1), 2) + matrix(c(q_level, 0, 0, 0), 2)
  # R predicts the first day's state from a, and takes its covariance from Pn
  mod <- list(T = T, V = V, h = r, Z = c(1, 0), a = as.vector(solve(T, a)), P = P, Pn = P)
  run <- KalmanRun(y, mod)
  smooth <- KalmanSmooth(y, mod)
  n <- length(z)
  sum_log <- n * (2 * run$values[1] - log(run$values[2])) # values: (log(s2) + sum log F / n) / 2, and s2
  compare(paste(name, "log-likelihood"), sum(told[, 2]), -0.5 * (n * log(2 * pi) + sum_log + n * run$values[2]))
  compare(paste(name, "filtered"), told[, 3:4], run$states[at, ])
  compare(paste(name, "smoothed"), told[, 8:9], smooth$smooth[at, ])
  compare(paste(name, "smoothed covariance"), told[, 10:12],
          cbind(smooth$var[at, 1, 1], smooth$var[at, 1, 2], smooth$var[at, 2, 2]))
  # at the last day the smoothed covariance is the filtered one
  compare(paste(name, "filtered covariance"), told[n, 5:7],
          c(smooth$var[at[n], 1, 1], smooth$var[at[n], 1, 2], smooth$var[at[n], 2, 2]))
}

P <- matrix(c(0.02, 0.003, 0.003, 0.004), 2)
chicks <- as.data.frame(ChickWeight)
for (chick in levels(chicks$Chick)) {
  one <- chicks[chicks$Chick == chick, ]
  both(paste("chick", chick), one$Time, log(one$weight), 4e-6, 1e-5, c(log(41), 0.08), P, 0.0004)
  both(paste("chick", chick, "in grams"), one$Time, one$weight, 0.7, 0.3, c(40, 8), 100 * P, 9)
}
both("regular", 0:99, as.vector(LakeHuron[1:98])[c(1:98, 1, 2)], 0.01, 0.02, c(579, 0), P, 0.2)
set.seed(20261125)
for (i in 1:50) {
  A <- matrix(rnorm(4), 2)
  both(paste("random", i), sort(sample(0:200, 40)), cumsum(rnorm(40)), exp(rnorm(1, -3)), exp(rnorm(1, -3)), rnorm(2),
       crossprod(A), exp(rnorm(1)))
}

# Without noise and with nothing known before, the filter is least squares: R's lm, and figures printed for this
# project's facts by R 4.2.2 (slope, intercept).
least_squares <- function(name, x, y, printed = NULL) {
  told <- read.table(text = ask(c("trend", number(c(0, 0, 0, 0, 1e8, 0, 1e8, 1))), paste(number(x), number(y))))
  n <- length(x)
  told <- c(told[n, 4], told[n, 3] - told[n, 4] * x[n])
  fit <- rev(unname(coef(lm(y ~ x))))
  compare_to(paste(name, "lm"), told, fit, 1e-6)
  if (!is.null(printed)) compare_to(paste(name, "as printed"), told, printed, 1e-6)
}
chick1 <- chicks[chicks$Chick == "1", ]
least_squares("chick 1", chick1$Time, chick1$weight, c(7.987899, 24.465436))
least_squares("ln chick 1", chick1$Time, log(chick1$weight), NULL)
compare_to("ln chick 1 slope", unname(coef(lm(log(weight) ~ Time, chick1)))[2], 0.07669412, 1e-7)
data(dietox, package = "geepack")
pig <- dietox[dietox$Pig == 4601, ]
least_squares("pig 4601", pig$Time, pig$Weight, c(6.847901, 15.096966))
pig <- dietox[dietox$Pig == 4858 & !is.na(dietox$Weight), ]
least_squares("pig 4858", pig$Time, pig$Weight)
rats <- as.data.frame(nlme::BodyWeight)
printed <- list("1" = c(0.4844, 244.8413), "7" = c(0.2018, 267.8657), "10" = c(1.3411, 407.7394),
                "12" = c(1.1476, 551.9568))
for (rat in names(printed)) {
  one <- rats[rats$Rat == rat, ]
  least_squares(paste("rat", rat), one$Time, one$weight)
  compare_to(paste("rat", rat, "as printed"), round(rev(unname(coef(lm(weight ~ Time, one)))), 4), printed[[rat]], 1e-9)
}

x <- c(0, rnorm(200))
v <- c(1, exp(rnorm(200, 0, 4)))
compare("normal density", as.numeric(ask("normal", paste(number(x), number(v)))), dnorm(x, 0, sqrt(v), log = TRUE))
cat(sprintf("%d numbers checked, %d comparisons differ\n", checked, wrong))
quit(status = if (wrong > 0 || checked == 0) 1 else 0)
