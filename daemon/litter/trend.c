// SPDX-License-Identifier: MIT
#include "daemon/litter/trend.h"
#include <math.h>

#define LN_2PI 1.83787706640934548356

void trend_predict(struct trend *trend, double day, const struct trend_noise *noise)
{
	double dt = day - trend->day;

	if (!(dt > 0))
		return;
	trend->day = day;
	trend->level += trend->rate * dt;
	trend->ll += dt * (2 * trend->lr + dt * trend->rr) + noise->q_level * dt + noise->q_rate * dt * dt * dt / 3;
	trend->lr += dt * trend->rr + noise->q_rate * dt * dt / 2;
	trend->rr += noise->q_rate * dt;
}

double trend_ln_normal(double x, double variance)
{
	return -0.5 * (LN_2PI + log(variance) + x * x / variance);
}

struct trend_innovation trend_test(const struct trend *trend, double z, double r)
{
	struct trend_innovation innovation = { .nu = z - trend->level, .s = trend->ll + r };

	innovation.ln_density = trend_ln_normal(innovation.nu, innovation.s);
	return innovation;
}

/* Joseph's form for one measured component: the covariance stays positive whatever the rounding. */
struct trend_innovation trend_update(struct trend *trend, double z, double r)
{
	struct trend_innovation innovation = trend_test(trend, z, r);
	double k_level = trend->ll / innovation.s, k_rate = trend->lr / innovation.s;
	double keep = r / innovation.s; /* 1 - k_level, without cancellation */
	double ll = trend->ll, lr = trend->lr;

	trend->level += k_level * innovation.nu;
	trend->rate += k_rate * innovation.nu;
	trend->ll = keep * keep * ll + k_level * k_level * r;
	trend->lr = keep * (lr - k_rate * ll) + k_level * k_rate * r;
	trend->rr += k_rate * k_rate * (ll + r) - 2 * k_rate * lr;
	return innovation;
}

/* Gain C = P F' P^-1 (of the prediction), F = [1 dt; 0 1]. */
struct trend trend_smooth(const struct trend *filtered, const struct trend *predicted, const struct trend *smoothed)
{
	double dt = predicted->day - filtered->day;
	double pf_ll = filtered->ll + dt * filtered->lr, pf_lr = filtered->lr; /* P F', row by row */
	double pf_rl = filtered->lr + dt * filtered->rr, pf_rr = filtered->rr;
	double det = predicted->ll * predicted->rr - predicted->lr * predicted->lr;
	double c_ll, c_lr, c_rl, c_rr, d_level, d_rate, e_ll, e_lr, e_rr;
	struct trend ret = *filtered;

	if (!(det > 0))
		return ret; /* nothing is known that could be learned from */
	c_ll = (pf_ll * predicted->rr - pf_lr * predicted->lr) / det;
	c_lr = (pf_lr * predicted->ll - pf_ll * predicted->lr) / det;
	c_rl = (pf_rl * predicted->rr - pf_rr * predicted->lr) / det;
	c_rr = (pf_rr * predicted->ll - pf_rl * predicted->lr) / det;
	d_level = smoothed->level - predicted->level;
	d_rate = smoothed->rate - predicted->rate;
	e_ll = smoothed->ll - predicted->ll;
	e_lr = smoothed->lr - predicted->lr;
	e_rr = smoothed->rr - predicted->rr;
	ret.level += c_ll * d_level + c_lr * d_rate;
	ret.rate += c_rl * d_level + c_rr * d_rate;
	ret.ll += c_ll * c_ll * e_ll + 2 * c_ll * c_lr * e_lr + c_lr * c_lr * e_rr;
	ret.lr += c_ll * c_rl * e_ll + (c_ll * c_rr + c_lr * c_rl) * e_lr + c_lr * c_rr * e_rr;
	ret.rr += c_rl * c_rl * e_ll + 2 * c_rl * c_rr * e_lr + c_rr * c_rr * e_rr;
	return ret;
}
