// SPDX-License-Identifier: MIT
#pragma once
/*
 * Text that goes into HTML or the SVG inside it: names come from other people, and are text whatever they hold.
 * Above: sheet_page, report_*. Below: text. Failures stay in the stream's error flag.
 */
#include <stdio.h>

/*
 * Text with what would be taken for markup made harmless (WHATWG HTML, 13.3, and " and ' for attributes). Control
 * characters, those that turn the writing direction, and malformed octets become "?".
 */
void html_text(FILE *to, const char *text);
/* <tag>text</tag>; the tag, perhaps with attributes, is ours. */
void html_element(FILE *to, const char *tag, const char *text);
