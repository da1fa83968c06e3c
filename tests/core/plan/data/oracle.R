# Answers of R and its packages, by which r_oracle_test.cc judges ours. Every line on standard
# output is a name and its numbers. Data come from R's own data sets and go along.
suppressPackageStartupMessages({
  library(forecast)
  library(survival)
  library(MASS)
})

put <- function(name, values) {
  values <- as.numeric(values)
  stopifnot(!anyNA(values))
  cat(name, sprintf("%.17g", values), "\n")
}

# Loss formula: a Poisson law cut off at the number of units. One case: load, units, value.
cases <- rbind(expand.grid(load = c(.01, .5, 1, 2.5, 7, 20, 84, 200), units = c(1, 2, 5, 10, 40)),
               expand.grid(load = c(20, 84, 200, 1000, 12000), units = c(84, 100, 190, 1000)))
put("loss.load", cases$load)
put("loss.units", cases$units)
put("loss.log", dpois(cases$units, cases$load, log = TRUE) -
      ppois(cases$units, cases$load, log.p = TRUE))

# Laws of counts: size 0 stands for Poisson.
laws <- rbind(cbind(mean = c(.1, .5, 1, 2, 3.5, 5, 10, 20, 50, 84, 250, 1000), size = 0),
              cbind(mean = c(.2, 3, 3, 20, 84, 84), size = c(.5, 1, 10, 5, 2, 100)))
share <- c(.001, .025, .05, .1, .25, .5, .8, .9, .95, .975, .99, .999)
put("law.mean", laws[, "mean"])
put("law.size", laws[, "size"])
put("law.share", share)
for (i in seq_len(nrow(laws))) {
  mean <- laws[i, "mean"]
  size <- laws[i, "size"]
  k <- 0:ceiling(2 * mean + 3)
  is_poisson <- size == 0
  put(paste0("law.quantile.", i), if (is_poisson) qpois(share, mean) else
    qnbinom(share, size = size, mu = mean))
  put(paste0("law.probability.", i), if (is_poisson) dpois(k, mean) else
    dnbinom(k, size = size, mu = mean))
  put(paste0("law.tail.", i), if (is_poisson) ppois(k, mean, lower.tail = FALSE) else
    pnbinom(k, size = size, mu = mean, lower.tail = FALSE))
}

# Product-limit curves: remission times by treatment, lung cancer by sex, and waiting for a heart
# by age of follow-up, where patients are seen only from some day on.
curve <- function(name, entry, exit, ended) {
  # A stay that ends on the day on which it is first seen is moved by half a day, as is usual.
  exit <- ifelse(exit > entry, exit, exit + .5)
  fit <- if (all(entry == 0)) survfit(Surv(exit, ended) ~ 1, conf.type = "log-log") else
    survfit(Surv(entry, exit, ended) ~ 1, conf.type = "log-log")
  s <- summary(fit)
  put(paste0(name, ".entry"), entry)
  put(paste0(name, ".exit"), exit)
  put(paste0(name, ".ended"), ended)
  put(paste0(name, ".time"), s$time)
  put(paste0(name, ".at_risk"), s$n.risk)
  put(paste0(name, ".died"), s$n.event)
  put(paste0(name, ".survival"), s$surv)
  put(paste0(name, ".hazard"), s$cumhaz)
  some <- s$surv > 0
  put(paste0(name, ".error"), s$std.err[some])
  put(paste0(name, ".low"), s$lower[some])
  put(paste0(name, ".high"), s$upper[some])
  limit <- max(exit)
  put(paste0(name, ".restricted"), summary(fit, rmean = limit)$table[c("rmean", "se(rmean)")])
}
for (arm in levels(gehan$treat)) {
  g <- gehan[gehan$treat == arm, ]
  curve(paste0("stay.gehan.", arm), 0 * g$time, g$time, g$cens)
}
for (sex in 1:2) {
  l <- lung[lung$sex == sex, ]
  curve(paste0("stay.lung.", sex), 0 * l$time, l$time, l$status - 1)
}
curve("stay.heart", heart$start, heart$stop, heart$event)
difference <- survdiff(Surv(time, cens) ~ treat, data = gehan)
put("stay.difference", c(difference$chisq, difference$exp))

# Seasons with given weights and start: Holt and Winters' recursions.
season <- function(name, y, alpha, beta, gamma) {
  m <- frequency(y)
  first <- as.numeric(y[1:m])
  level <- mean(first)
  slope <- mean(as.numeric(y[m + 1:m]) - first) / m
  # R leaves out the cycle that it would take its start from: one more in front of it.
  padded <- ts(c(rep(0, m), y), frequency = m)
  fit <- HoltWinters(padded, alpha, beta, gamma, seasonal = "additive",
                     l.start = level, b.start = slope, s.start = first - level)
  put(paste0(name, ".values"), y)
  put(paste0(name, ".weights"), c(alpha, beta, gamma, m))
  put(paste0(name, ".start"), c(level, slope, first - level))
  put(paste0(name, ".squares"), fit$SSE)
  put(paste0(name, ".ahead"), predict(fit, 2 * m))
}
season("season.gas", UKgas, .3, .05, .4)
season("season.accidents", USAccDeaths, .5, .1, .2)
season("season.co2", co2, .5126, .0095, .4729)

# Smoothing fitted by likelihood: states, errors and forecasts; and by squares.
smooth <- function(name, y, model) {
  m <- frequency(y)
  fit <- ets(y, model = model, damped = FALSE)
  get <- function(parameter) if (parameter %in% names(fit$par)) fit$par[[parameter]] else 0
  start <- fit$initstate
  trend <- substr(model, 2, 2) == "A"
  # Its seasons begin with the newest one; the last of them belongs to the first step.
  seasons <- if (substr(model, 3, 3) == "N") NULL else rev(start[grepl("^s", names(start))])
  put(paste0(name, ".values"), y)
  put(paste0(name, ".weights"), c(get("alpha"), get("beta"), get("gamma"), m))
  put(paste0(name, ".start"), c(start[["l"]], if (trend) start[["b"]] else 0, seasons))
  put(paste0(name, ".likelihood"), fit$loglik)
  put(paste0(name, ".squares"), sum((y - fitted(fit))^2))
  put(paste0(name, ".aicc"), fit$aicc)
  put(paste0(name, ".sigma"), sqrt(fit$sigma2))
  # Over one cycle: beyond it R gives the mean over all paths where seasons are ratios, and that is
  # not the path without errors.
  put(paste0(name, ".ahead"), forecast(fit, m, PI = FALSE)$mean)
}
smooth("smooth.ratio.air", AirPassengers, "MAM")
smooth("smooth.ratio.gas", UKgas, "MAM")
smooth("smooth.sum.accidents", USAccDeaths, "AAA")
smooth("smooth.level.nile", Nile, "ANN")
for (name in c("air", "gas")) {
  y <- switch(name, air = AirPassengers, gas = UKgas)
  fit <- hw(y, seasonal = "multiplicative")
  put(paste0("holt.", name), sum((y - fitted(fit))^2))
}

# Forecasts from origins in the past, by each method: mean loss over quantiles, steps and origins, in
# units of the naive scale of what was known.
shares <- c(.025, .1, .5, .9, .95, .975, .99)
loss <- function(forecast, came, scale) {
  low <- matrix(forecast$lower, ncol = 4)
  high <- matrix(forecast$upper, ncol = 4)
  q <- cbind(low[, 3], low[, 1], as.numeric(forecast$mean), high)
  mean(sapply(seq_along(shares), function(i) {
    ifelse(came >= q[, i], shares[i] * (came - q[, i]), (1 - shares[i]) * (q[, i] - came))
  })) / scale
}
methods <- list(
  smoothing = function(y, h) forecast(ets(y), h, level = c(80, 90, 95, 98)),
  theta = function(y, h) thetaf(y, h, level = c(80, 90, 95, 98)),
  sum = function(y, h) hw(y, h, "additive", level = c(80, 90, 95, 98)),
  ratio = function(y, h) hw(y, h, "multiplicative", level = c(80, 90, 95, 98)))
origins <- function(y, count) {
  m <- frequency(y)
  h <- if (m > 1) m else 6
  y <- as.numeric(y)
  first <- max(if (m > 1) 3 * m + 2 else 15, floor(length(y) / 2))
  from <- unique(round(seq(first, length(y) - h, length.out = count)))
  losses <- sapply(if (m > 1) names(methods) else c("smoothing", "theta"), function(method) {
    mean(sapply(from, function(o) {
      set.seed(1)
      loss(methods[[method]](ts(y[1:o], frequency = m), h), y[o + 1:h],
           mean(abs(diff(y[1:o], m))))
    }))
  })
  list(values = y, shape = c(m, h), origins = from, losses = losses)
}
last <- function(y, n, cycle = frequency(y)) ts(tail(as.numeric(y), n), frequency = cycle)
monthly <- list(AirPassengers = AirPassengers, UKDriverDeaths = UKDriverDeaths, wineind = wineind,
                nottem = nottem, ldeaths = ldeaths, mdeaths = mdeaths, fdeaths = fdeaths,
                USAccDeaths = USAccDeaths, co2 = last(co2, 144), gas = last(gas, 144),
                front = Seatbelts[, "front"], rear = Seatbelts[, "rear"],
                kms = Seatbelts[, "kms"], killed = Seatbelts[, "VanKilled"])
quarterly <- list(austres = austres, UKgas = UKgas, JohnsonJohnson = JohnsonJohnson,
                  woolyrnq = woolyrnq, freeny = freeny.y)
yearly <- list(lynx = lynx, LakeHuron = LakeHuron, Nile = Nile, sunspots = last(sunspot.year, 150),
               WWWusage = WWWusage, lh = lh, nhtemp = nhtemp, BJsales = BJsales,
               BJlead = BJsales.lead, airmiles = airmiles, treering = last(treering, 150),
               discoveries = discoveries, DAX = last(EuStockMarkets[, "DAX"], 150, 1),
               FTSE = last(EuStockMarkets[, "FTSE"], 150, 1))
all <- c(monthly, quarterly, yearly)
names(all) <- c(names(monthly), names(quarterly), names(yearly))
counts <- c(rep(6, length(monthly)), rep(12, length(quarterly)), rep(10, length(yearly)))
answers <- parallel::mcmapply(origins, all, counts, SIMPLIFY = FALSE, mc.cores = 2)
for (name in names(all)) {
  for (part in c("values", "shape", "origins")) {
    put(paste0("origins.", name, ".", part), answers[[name]][[part]])
  }
  for (method in names(answers[[name]]$losses)) {
    put(paste0("origins.", name, ".", method), answers[[name]]$losses[[method]])
  }
}

# Seasonal differences with two moving averages, by exact likelihood, and two cycles ahead.
differences <- function(name, y, logs) {
  cycle <- frequency(y)
  fit <- arima(if (logs) log(y) else y, c(0, 1, 1), seasonal = list(order = c(0, 1, 1)),
               method = "ML", optim.control = list(reltol = 1e-14, maxit = 1000))
  ahead <- predict(fit, 2 * cycle)
  put(paste0(name, ".cycle"), cycle)
  put(paste0(name, ".values"), y)
  put(paste0(name, ".weights"), coef(fit))
  put(paste0(name, ".variance"), fit$sigma2)
  # Without what depends on the number of differences alone; each log divides a density.
  n <- length(y) - cycle - 1
  jacobian <- if (logs) 2 * sum(log(tail(y, n))) else 0
  put(paste0(name, ".deviance"), -2 * fit$loglik - n * (log(2 * pi) + 1) + jacobian)
  put(paste0(name, ".ahead"), ahead$pred)
  put(paste0(name, ".error"), ahead$se)
}
differences("difference.air", AirPassengers, TRUE)
differences("difference.gas", UKgas, TRUE)
differences("difference.accidents", USAccDeaths, FALSE)
differences("difference.co2", co2, FALSE)

# Demand with empty periods: great discoveries above two a year, seizures from visit to visit, and
# days absent from school from pupil to pupil.
intermittent <- function(name, y, alpha, beta) {
  y <- as.numeric(y)
  put(paste0(name, ".values"), y)
  put(paste0(name, ".weights"), c(alpha, beta))
  croston <- croston(ts(y), h = 1, alpha = alpha)$model
  put(paste0(name, ".croston"),
      c(tail(croston$demand$model$state, 1), tail(croston$period$model$state, 1)))
  put(paste0(name, ".rate"), croston(ts(y), h = 1, alpha = alpha)$mean)
  # Chance and size apart, each the recursive filter that simple smoothing is.
  smoothed <- function(x, weight, start)
    tail(as.numeric(filter(weight * x, 1 - weight, method = "recursive", init = start)), 1)
  chance <- mean(y > 0)
  size <- mean(y[y > 0])
  put(paste0(name, ".start"), c(size, chance))
  put(paste0(name, ".apart"),
      c(smoothed(y[y > 0], alpha, size), smoothed(as.numeric(y > 0), beta, chance)))
}
intermittent("empty.discoveries", pmax(discoveries - 2, 0), .1, .05)
intermittent("empty.seizures", epil$y, .15, .1)
intermittent("empty.absence", quine$Days, .05, .2)

# Rates of rare demand from origins in the past, in a negative binomial law by moments, as above; the
# form of Teunter, Syntetos and Babai with the weights of least squares one step ahead.
rates <- list(
  croston = function(y) croston(ts(y), h = 1, alpha = .1)$mean,
  corrected = function(y) .95 * croston(ts(y), h = 1, alpha = .1)$mean,
  apart = function(y) {
    run <- function(weight) {
      size <- mean(y[y > 0])
      chance <- mean(y > 0)
      squares <- 0
      for (v in y) {
        squares <- squares + (v - size * chance)^2
        chance <- chance + weight[2] * ((v > 0) - chance)
        if (v > 0) size <- size + weight[1] * (v - size)
      }
      c(squares, size * chance)
    }
    best <- optim(c(0, 0), function(free) run(.3 * plogis(free))[1])$par
    run(.3 * plogis(best))[2]
  },
  mean = function(y) sum(y) / length(y))
rare <- list(discoveries = pmax(discoveries - 2, 0), seizures = epil$y, absence = quine$Days,
             insects = InsectSprays$count)
for (name in names(rare)) {
  y <- as.numeric(rare[[name]])
  from <- round(seq(length(y) / 2, length(y) - 10, length.out = 8))
  put(paste0("rare.", name, ".values"), y)
  put(paste0("rare.", name, ".origins"), from)
  for (method in names(rates)) {
    put(paste0("rare.", name, ".", method), mean(sapply(from, function(o) {
      seen <- y[1:o]
      spread <- var(seen) - mean(seen)
      rate <- as.numeric(rates[[method]](seen))
      q <- if (spread > 0) qnbinom(shares, size = mean(seen)^2 / spread, mu = rate) else
        qpois(shares, rate)
      mean(outer(y[o + 1:10], seq_along(shares), function(came, i) {
        ifelse(came >= q[i], shares[i] * (came - q[i]), (1 - shares[i]) * (q[i] - came))
      })) / mean(abs(diff(seen)))
    })))
  }
}

# Count regressions, iterated to the last digits.
regression <- function(name, formula, data, scattered) {
  exact <- glm.control(epsilon = 1e-14, maxit = 200)
  fit <- if (scattered) glm.nb(formula, data, control = exact) else
    glm(formula, poisson, data, control = exact)
  design <- model.matrix(fit)
  put(paste0(name, ".design"), t(design))
  put(paste0(name, ".counts"), fit$y)
  put(paste0(name, ".coefficients"), coef(fit))
  put(paste0(name, ".fitted"), fitted(fit))
  put(paste0(name, ".deviance"), deviance(fit))
  put(paste0(name, ".likelihood"), logLik(fit))
  if (scattered) put(paste0(name, ".size"), fit$theta)
}
regression("count.absence", Days ~ Eth + Sex + Age + Lrn, quine, TRUE)
regression("count.seizures", y ~ lbase + trt + lage + V4, epil, TRUE)
regression("count.insects", count ~ spray, InsectSprays, FALSE)
regression("count.breaks", breaks ~ wool * tension, warpbreaks, TRUE)
