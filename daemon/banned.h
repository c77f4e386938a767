// SPDX-License-Identifier: MIT
/* Force-included into every file: calls that have a safer twin don't compile. */
#pragma once
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#pragma GCC poison strcpy strcat sprintf vsprintf strncpy strncat strtok atoi atol atof localtime gmtime
