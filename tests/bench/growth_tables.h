// SPDX-License-Identifier: MIT
#pragma once
/* The tables of growth.c, each printed as it is reckoned. litters: how many of each kind. */

/* svg: where the figure goes; NULL: nowhere. */
void growth_tables_detection(int litters, const char *svg);
void growth_tables_prediction(int litters);
void growth_tables_verdict(int litters);
void growth_tables_concern(int litters);
void growth_tables_speed(void);
