// SPDX-License-Identifier: MIT
// Nothing yet: the page comes with its own commit.
