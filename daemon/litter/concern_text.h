// SPDX-License-Identifier: MIT
#pragma once
/*
 * Numbers as the concerns' sentences have them: grams and per cent, with no more digits than mean something.
 * Above: concern_birth, concern_growth. Below: weigh/quantity. Pure.
 */
#include <stdint.h>

struct concern_text {
	char text[24];
};

struct concern_text concern_text_mass(int64_t mg);     /* "304 g", "119.1 g": what was weighed */
struct concern_text concern_text_believed(double g);   /* "304 g": whole grams */
struct concern_text concern_text_change(int64_t mg);   /* "+9 g", "-4.5 g", "0 g" */
struct concern_text concern_text_change_pct(double p); /* "+3.1 %", "-0.4 %", "0.0 %": never "-0.0 %" */
struct concern_text concern_text_age(int64_t ms);      /* "at hour 48", from four days on "on day 5" */
struct concern_text concern_text_span(int64_t ms);     /* "26 h", from four days on "5 days" */
struct concern_text concern_text_sure(double p);       /* "93 % sure", "over 99 % sure" */
