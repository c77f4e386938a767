// SPDX-License-Identifier: MIT
#pragma once
/*
 * How the report looks, on paper first: black on white, twelve lines told apart by dashes and width. No page size: A4 and
 * Letter both; 190 mm of the narrower of either are left between the margins.
 */
static const char report_style[] =
	"@page { margin: 12mm 10mm 14mm; @bottom-right { content: counter(page) \" / \" counter(pages); "
	"font: 8pt sans-serif } }\n"
	"body { font: 10pt/1.35 sans-serif; color: #000; background: #fff; max-width: 190mm; margin: 4mm auto; "
	"padding: 0 3mm }\n"
	"@media print { body { margin: 0; padding: 0; max-width: none } .pup { break-before: page } a { color: #000; "
	"text-decoration: none } }\n"
	"h1 { font-size: 17pt; margin: 0 0 2mm } h2 { font-size: 13pt; margin: 6mm 0 1mm; break-after: avoid }\n"
	"h3 { font-size: 10.5pt; margin: 4mm 0 1mm; break-after: avoid }\n"
	"h1, h2, h3, p, li, dd, td, th, caption, figcaption { overflow-wrap: anywhere } td, th { min-width: 9mm }\n"
	"p, ul { margin: 1mm 0 } ul { padding-left: 5mm }\n"
	"dl { display: grid; grid-template-columns: max-content 1fr; gap: 0.5mm 4mm; margin: 1mm 0 } dt { font-weight: bold } "
	"dd { margin: 0 }\n"
	".call { border: 0.6mm solid #000; padding: 1.5mm 2mm; margin: 3mm 0; break-inside: avoid }\n"
	"table { border-collapse: collapse; width: 100%; margin: 3mm 0; font-size: 8.5pt; line-height: 1.25 }\n"
	"caption { text-align: left; font-weight: bold; font-size: 10pt; padding: 1mm 0; break-after: avoid }\n"
	"thead { display: table-header-group } tr { break-inside: avoid }\n"
	"th, td { border-bottom: 0.2mm solid #888; padding: 0.5mm 1.2mm; text-align: left; vertical-align: top }\n"
	"thead th { border-bottom: 0.4mm solid #000; vertical-align: bottom } tbody th { font-weight: normal }\n"
	".concerns td:nth-child(3) { min-width: 38mm } .sources th { min-width: 60mm; text-align: left }\n"
	".n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap } .n + :not(.n) { padding-left: 4mm } time { white-space: nowrap }\n"
	"figure { margin: 3mm 0; break-inside: avoid } figcaption { font-size: 9pt } svg { width: 100%; height: auto }\n"
	"svg text { font: 11px sans-serif; fill: #000 } svg .y { text-anchor: end } svg .x, svg .d, svg .name "
	"{ text-anchor: middle }\n"
	"svg .d { font-size: 9.5px } svg .key { font-size: 10.5px }\n"
	".grid { stroke: #ccc; stroke-width: 0.6 } .frame { fill: none; stroke: #000; stroke-width: 1 }\n"
	".curve { fill: none; stroke: #000; stroke-width: 1.3; stroke-linejoin: round } .own { stroke-width: 2 }\n"
	".s1, .s7 { stroke-dasharray: 8 3 } .s2, .s8 { stroke-dasharray: 2 2.5 } .s3, .s9 { stroke-dasharray: 9 3 2 3 }\n"
	".s4, .s10 { stroke-dasharray: 16 4 } .s5, .s11 { stroke-dasharray: 6 2.5 2 2.5 2 2.5 }\n"
	".s6, .s7, .s8, .s9, .s10, .s11 { stroke-width: 2.4; stroke: #666 }\n"
	".mate { fill: none; stroke: #777; stroke-width: 0.9; stroke-dasharray: 4 3 }\n"
	".doubt { fill: #000; fill-opacity: 0.1; stroke: none } .doubt.own { fill-opacity: 0.22 }\n"
	".hatch { stroke: #999; stroke-width: 1 } .band { stroke: none } .edge { fill: none; stroke: #666; stroke-width: 0.8 }\n"
	"rect.edge { fill: revert-layer }\n"
	".twice, .zero { stroke: #000; stroke-width: 0.8; stroke-dasharray: 1 3 } .leader { stroke: #888; stroke-width: 0.6 }\n"
	".whisker { stroke: #000; stroke-width: 0.7 } .dot { fill: #000 } .ring, .diamond { fill: #fff; stroke: #000; "
	"stroke-width: 1.1 }\n"
	".cross { fill: none; stroke: #000; stroke-width: 1.4 }\n";
