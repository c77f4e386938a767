// SPDX-License-Identifier: MIT
// A pup's curve as SVG made by the DOM: its weighings, littermates thin, the published band where there is one.
'use strict';
(function () {
  const NS = 'http://www.w3.org/2000/svg';
  const W = 340, H = 250, LEFT = 44, RIGHT = 8, TOP = 24, BOTTOM = 34;
  const DAY = 86400000, HOUR = 3600000;
  const el = bismar.el;
  let count = 0;

  function node(tag, attributes, text) {
    const element = document.createElementNS(NS, tag);
    Object.keys(attributes || {}).forEach(function (key) { element.setAttribute(key, attributes[key]); });
    if (text !== undefined) element.textContent = text;
    return element;
  }
  function fine(list, key) {
    return (list || []).filter(function (p) { return p && bismar.isNumber(p.at_ms) && bismar.isNumber(p[key]); });
  }

  // Steps of 1, 2 or 5 times a power of ten: at most `most` of them.
  bismar.step = function (span, most) {
    const raw = span / most, power = Math.pow(10, Math.floor(Math.log(raw) / Math.LN10));
    const times = [1, 2, 5, 10].filter(function (t) { return t * power >= raw * (1 - 1e-9); })[0];
    return times * power;
  };
  function extent(curve, points, band) {
    const at = points.map(function (p) { return p.at_ms; }), g = points.map(function (p) { return p.net_g; });
    if (bismar.isNumber(curve.born_ms)) at.push(curve.born_ms);
    if (bismar.isNumber(curve.birth_g)) g.push(curve.birth_g);
    const t0 = Math.min.apply(null, at), t1 = Math.max(Math.max.apply(null, at), t0 + 6 * HOUR);
    (curve.littermates || []).forEach(function (mate) {
      fine(mate.points, 'net_g').forEach(function (p) { if (p.at_ms >= t0 && p.at_ms <= t1) g.push(p.net_g); });
    });
    band.forEach(function (p) { if (p.at_ms >= t0 && p.at_ms <= t1) g.push(p.low_g, p.high_g); });
    let low = Math.min.apply(null, g), high = Math.max.apply(null, g);
    if (high - low < 20) { low -= 10; high += 10; }
    const step = bismar.ounces ? bismar.step((high - low) / bismar.OUNCE, 5) * bismar.OUNCE : bismar.step(high - low, 5);
    return { t0: t0, t1: t1, low: Math.max(0, Math.floor(low / step) * step), high: Math.ceil(high / step) * step, step: step };
  }
  function axes(svg, e, x, y, born) {
    for (let g = e.low; g <= e.high + e.step / 1000; g += e.step) {
      svg.appendChild(node('line', { class: 'grid', x1: LEFT, x2: W - RIGHT, y1: y(g), y2: y(g) }));
      svg.appendChild(node('text', { class: 'tick', x: LEFT - 5, y: y(g) + 4, 'text-anchor': 'end' }, String(Math.round((bismar.ounces ? g / bismar.OUNCE : g) * 10) / 10)));
    }
    svg.appendChild(node('text', { class: 'tick', x: 2, y: 11 }, 'mass, ' + bismar.unit()));
    const hours = e.t1 - e.t0 < 3 * DAY, unit = hours ? HOUR : DAY, span = (e.t1 - e.t0) / unit;
    const step = hours ? [6, 12, 24].filter(function (s) { return span / s <= 6; })[0] || 24 : Math.max(1, bismar.step(span, 6));
    for (let n = 0; n <= span; n += step) {
      const at = x(e.t0 + n * unit);
      svg.appendChild(node('line', { class: 'grid', x1: at, x2: at, y1: TOP, y2: H - BOTTOM }));
      svg.appendChild(node('text', { class: 'tick', x: at, y: H - BOTTOM + 14, 'text-anchor': n === 0 ? 'start' : 'middle' }, String(n)));
    }
    svg.appendChild(node('text', { class: 'tick', x: (LEFT + W - RIGHT) / 2, y: H - 3, 'text-anchor': 'middle' },
      (hours ? 'hours' : 'days') + ' since ' + (born ? 'birth' : 'the first weighing') + ', ' + bismar.when(e.t0)));
  }
  function line(points, key, x, y) {
    return points.map(function (p, i) { return (i ? 'L' : 'M') + x(p.at_ms).toFixed(1) + ' ' + y(p[key]).toFixed(1); }).join('');
  }
  function bandPath(band, x, y) {
    return line(band, 'high_g', x, y) + line(band.slice().reverse(), 'low_g', x, y).replace('M', 'L') + 'Z';
  }
  function tenth(g) { return Math.round(g * 10) / 10; }
  function words(curve, points) {
    const first = points[0], last = points[points.length - 1];
    return points.length + (points.length === 1 ? ' weighing' : ' weighings') + ': ' + bismar.mass(tenth(first.net_g)) + ' ' + bismar.when(first.at_ms) +
      (points.length > 1 ? ' to ' + bismar.mass(tenth(last.net_g)) + ' ' + bismar.when(last.at_ms) : '') + '.';
  }
  function draw(curve, points, band) {
    const birth = bismar.isNumber(curve.born_ms) && bismar.isNumber(curve.birth_g) && curve.born_ms < points[0].at_ms
      ? { at_ms: curve.born_ms, net_g: curve.birth_g } : null;
    const e = extent(curve, points, band), id = 'curve-' + ++count % 2;
    const x = function (ms) { return LEFT + (ms - e.t0) / (e.t1 - e.t0) * (W - LEFT - RIGHT); };
    const y = function (g) { return H - BOTTOM - (g - e.low) / (e.high - e.low) * (H - TOP - BOTTOM); };
    const svg = node('svg', { viewBox: '0 0 ' + W + ' ' + H, class: 'curve', role: 'img', 'aria-labelledby': id + '-t ' + id + '-d' });
    svg.appendChild(node('title', { id: id + '-t' }, 'Mass of ' + bismar.text(curve.name)));
    svg.appendChild(node('desc', { id: id + '-d' }, words(curve, points) + (band.length ? ' The band is from ' + bismar.text(curve.band_source) + '.' : '')));
    const clip = node('clipPath', { id: id + '-c' });
    clip.appendChild(node('rect', { x: LEFT, y: TOP, width: W - LEFT - RIGHT, height: H - TOP - BOTTOM }));
    svg.appendChild(clip);
    const inner = node('g', { 'clip-path': 'url(#' + id + '-c)' });
    if (band.length > 1) inner.appendChild(node('path', { class: 'band', d: bandPath(band, x, y) }));
    svg.appendChild(inner);
    axes(svg, e, x, y, bismar.isNumber(curve.born_ms) && curve.born_ms === e.t0);
    const lines = node('g', { 'clip-path': 'url(#' + id + '-c)' });
    (curve.littermates || []).forEach(function (mate) {
      const own = fine(mate.points, 'net_g');
      if (own.length > 1) lines.appendChild(node('path', { class: 'mate', d: line(own, 'net_g', x, y) }));
    });
    if (birth) lines.appendChild(node('path', { class: 'from-birth', d: line([birth, points[0]], 'net_g', x, y) }));
    lines.appendChild(node('path', { class: 'own', d: line(points, 'net_g', x, y) }));
    svg.appendChild(lines);
    if (birth) svg.appendChild(node('circle', { class: 'birth', cx: x(birth.at_ms), cy: y(birth.net_g), r: 4 }));
    points.forEach(function (p) {
      if (p.u_g > 0) svg.appendChild(node('line', { class: 'sure', x1: x(p.at_ms), x2: x(p.at_ms), y1: y(Math.min(p.net_g + 2 * p.u_g, e.high)),
        y2: y(Math.max(p.net_g - 2 * p.u_g, e.low)) }));
      svg.appendChild(node('circle', { class: 'dot', cx: x(p.at_ms), cy: y(p.net_g), r: 3 }));
    });
    return svg;
  }
  function key(className, text) { return el('li', {}, el('span', { class: 'key ' + className, 'aria-hidden': 'true' }), text); }

  bismar.curve = function (curve) {
    const points = fine(curve.points, 'net_g'), mates = (curve.littermates || []).length;
    const band = fine(curve.band, 'low_g').filter(function (p) { return bismar.isNumber(p.high_g); });
    if (!points.length) return el('p', {}, 'It hasn\u2019t been weighed yet.');
    const list = el('ul', { class: 'keys' }, key('own', 'its weighings, from its birth weight on (ring); the strokes are twice their uncertainty'));
    if (mates) list.appendChild(key('mate', 'littermates'));
    if (band.length > 1) list.appendChild(key('band', 'published band: ' + bismar.text(curve.band_source)));
    return el('figure', {}, draw(curve, points, band), el('figcaption', {}, el('p', {}, words(curve, points)), list,
      band.length > 1 ? null : el('p', { class: 'small' }, 'No published band for it, or its birth weight isn\u2019t on record.')));
  };
})();
