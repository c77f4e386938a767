// SPDX-License-Identifier: MIT
// The one global name, `bismar`; words and figures as the terminal has them; elements made from text alone.
'use strict';
(function () {
  const bismar = {};
  window.bismar = bismar;

  bismar.VET = 'A pup that is limp, cold or won\u2019t suck: stop reading, call the vet now.';
  bismar.VET_FIRST = bismar.VET + ' Your vet\u2019s word goes first.';
  bismar.UNKNOWN = 'It isn\u2019t known whether that was done.';

  const LEVELS = { vet: 'CALL YOUR VET NOW', act: 'ACT', look: 'LOOK' };
  const RANKS = ['vet', 'act', 'look'];
  const LINKS = { subscribed: 'connected', away: 'away', lost: 'asleep', seen: 'connecting', connecting: 'connecting',
    resolving: 'connecting', waiting: 'trying again', listening: 'listening' };
  // Of the colours that collars are called by; a word that isn't here gets no mark: its name says it all.
  const COLOURS = { red: '#e0322c', orange: '#f08a1d', yellow: '#f4d92c', green: '#2fa84a', blue: '#2f6fe0', purple: '#8b46c9',
    violet: '#8b46c9', pink: '#f58fb8', white: '#ffffff', black: '#000000', grey: '#8c8c8c', gray: '#8c8c8c', brown: '#7d4f2a',
    turquoise: '#28bfc0', lime: '#a5dc32', gold: '#c99a1e', silver: '#c4c8cc', navy: '#1c2f70' };

  // Outside text: controls, and the marks that turn the direction of writing, are seen as such instead of working.
  bismar.text = function (value) {
    return value === null || value === undefined ? ''
      : String(value).replace(/[\u0000-\u001f\u007f-\u009f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u2069\ufeff]/g, '\ufffd');
  };

  bismar.isNumber = function (value) { return typeof value === 'number' && isFinite(value); };

  // A space between figure and unit that no line is broken at.
  bismar.mass = function (g) {
    return bismar.isNumber(g) ? bismar.figure(g) + '\u00a0' + bismar.unit() : '\u2013';
  };
  bismar.OUNCE = 28.349523125; // g, exactly
  bismar.unit = function () { return bismar.ounces ? 'oz' : 'g'; };
  bismar.figure = function (g) {
    const text = bismar.ounces ? (g / bismar.OUNCE).toFixed(2).replace(/^-(0\.00)$/, '$1') : String(Math.round(g * 1000) / 1000);
    return text === '0' ? '0' : text.replace('-', '\u2212');
  };
  bismar.about = function (g) {
    return bismar.isNumber(g) && Math.abs(g) >= 10 && !bismar.ounces ? bismar.mass(Math.round(g)) : bismar.mass(g);
  };
  bismar.gain = function (g, decimals) {
    const places = bismar.ounces ? 2 : decimals || 0, mass = bismar.ounces ? g / bismar.OUNCE : g;
    const value = Math.abs(mass) < Math.pow(10, -places) / 2 ? 0 : mass;
    return (value > 0 ? '+' : value < 0 ? '\u2212' : '') + Math.abs(value).toFixed(places) + '\u00a0' + bismar.unit();
  };
  // Rounded down to 10 microlitres: a third decimal is misread, and a dose is never rounded up.
  bismar.ml = function (ml) {
    return bismar.isNumber(ml) ? String(Math.floor(Math.round(ml * 1000) / 10) / 100) : '\u2013';
  };

  bismar.ms = function (time) {
    const ms = bismar.isNumber(time) ? time : Date.parse(time);
    return isFinite(ms) ? ms : null;
  };
  function two(n) { return n < 10 ? '0' + n : String(n); }
  const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];
  bismar.clock = function (ms) {
    const at = new Date(ms);
    return two(at.getHours()) + ':' + two(at.getMinutes());
  };
  // "06:10" of today, "Mon 06:10" within a week, else the date; in the phone's local time.
  bismar.when = function (time, now) {
    const ms = bismar.ms(time);
    if (ms === null) return '\u2013';
    const at = new Date(ms), today = new Date(now || Date.now());
    if (at.toDateString() === today.toDateString()) return bismar.clock(ms);
    if (Math.abs(today - at) < 6 * 86400000) return DAYS[at.getDay()] + ' ' + bismar.clock(ms);
    return at.getFullYear() + '-' + two(at.getMonth() + 1) + '-' + two(at.getDate()) + ' ' + bismar.clock(ms);
  };
  bismar.ago = function (ms) {
    const minutes = Math.max(0, Math.floor(ms / 60000));
    return minutes < 1 ? 'under a minute' : minutes < 120 ? minutes + '\u00a0min' : Math.floor(minutes / 60) + '\u00a0h';
  };

  bismar.level = function (level) { return LEVELS[level] || bismar.text(level); };
  bismar.rank = function (level) { return Math.max(0, RANKS.indexOf(level)); }; // unknown: as the worst
  bismar.linkWord = function (state) { return LINKS[state] || bismar.text(state); };
  bismar.colour = function (collar) {
    const word = String(collar || '').toLowerCase();
    return Object.prototype.hasOwnProperty.call(COLOURS, word) ? COLOURS[word] : null;
  };
  function stop(text) { return /[.?!]$/.test(text) ? text : text + '.'; }
  bismar.stop = stop;
  bismar.refusal = function (error) {
    const message = bismar.text(error && error.message) || 'It was refused';
    const hint = bismar.text(error && error.hint);
    return stop(message) + (hint ? ' ' + stop(hint) : '');
  };

  // Is a difference of two weighings more than what is known of each explains? Uncertainties add in squares (JCGM 100:2008,
  // 5.1.2), rounding to a step has step / sqrt(12) (F.2.2.1); twice that holds 19 times in 20.
  bismar.told = function (gain_g, u_g, before_u_g, step_g) {
    const least = (step_g || 0) / Math.sqrt(12);
    const one = Math.max(u_g || 0, least), other = Math.max(bismar.isNumber(before_u_g) ? before_u_g : one, least);
    const u = Math.sqrt(one * one + other * other);
    return u > 0 ? Math.abs(gain_g) > 2 * u : null; // null: it isn't known how fine the scale is
  };

  // ---- elements ----
  // el('p', { class: 'x', hidden: true, on: { click: f } }, 'text', element, ...); never markup.
  bismar.el = function (tag, options) {
    const element = document.createElement(tag), o = options || {};
    Object.keys(o).forEach(function (key) {
      if (key === 'on') Object.keys(o.on).forEach(function (type) { element.addEventListener(type, o.on[type]); });
      else if (o[key] === true) element.setAttribute(key, '');
      else if (o[key] !== false && o[key] !== null && o[key] !== undefined) element.setAttribute(key, o[key]);
    });
    for (let i = 2; i < arguments.length; i++)
      if (arguments[i] !== null && arguments[i] !== undefined && arguments[i] !== '')
        element.appendChild(typeof arguments[i] === 'object' ? arguments[i] : document.createTextNode(arguments[i]));
    return element;
  };
  // A name, which may be written in any direction, is kept from turning what stands around it.
  bismar.name = function (name) { return bismar.el('bdi', { class: 'name' }, bismar.text(name)); };
  bismar.mark = function (collar) {
    const colour = bismar.colour(collar);
    if (!colour) return null;
    const mark = bismar.el('span', { class: 'mark', 'aria-hidden': 'true' });
    mark.style.backgroundColor = colour;
    return mark;
  };
  bismar.collar = function (collar) {
    if (!collar) return null;
    return bismar.el('span', { class: 'collar' }, bismar.mark(collar),
      bismar.el('span', {}, bismar.el('bdi', {}, bismar.text(collar)), ' collar'));
  };

  // A button does nothing for half a second after it has appeared: the touch or key was meant for what was there before.
  bismar.GUARD_MS = 500;
  bismar.seenAt = 0; // when this part of the page was turned to
  bismar.button = function (options, act) {
    const o = options || {}, born = performance.now();
    const element = bismar.el('button', Object.assign({ type: 'button' }, o));
    let pressed = 0; // when the finger or key went down on it
    element.addEventListener('pointerdown', function () { pressed = performance.now(); });
    element.addEventListener('pointercancel', function () { pressed = 0; });
    element.addEventListener('keydown', function (event) {
      if (event.repeat) event.preventDefault(); // a key that is held answers once
      else pressed = performance.now();
    });
    element.addEventListener('click', function (event) {
      const since = pressed || performance.now();
      pressed = 0;
      if (element.disabled || since - Math.max(born, bismar.seenAt) < bismar.GUARD_MS) { event.preventDefault(); return; }
      act(element);
    });
    for (let i = 2; i < arguments.length; i++)
      if (arguments[i]) element.appendChild(typeof arguments[i] === 'object' ? arguments[i] : document.createTextNode(arguments[i]));
    return element;
  };

  // Builds a region anew, but only when what it shows has changed. What is typed stays; the focus stays on what it was on,
  // or goes to the region's heading, where Enter does nothing.
  bismar.fill = function (region, key, build) {
    if (region.bismarKey === key) return false;
    const had = region.contains(document.activeElement) && document.activeElement !== region;
    const on = had ? document.activeElement.getAttribute('data-key') || document.activeElement.id : null;
    const typed = {};
    Array.prototype.forEach.call(region.querySelectorAll('input'), function (e) { if (e.id) typed[e.id] = e.value; });
    region.bismarKey = key;
    region.textContent = '';
    build(region);
    Array.prototype.forEach.call(region.querySelectorAll('input'), function (e) { if (typed[e.id]) e.value = typed[e.id]; });
    if (had) {
      let next = null;
      if (on) Array.prototype.forEach.call(region.querySelectorAll('[data-key], input'), function (e) {
        if ((e.getAttribute('data-key') || e.id) === on && !e.disabled) next = e;
      });
      if (!next) next = region.querySelector('h2, h3');
      if (next) {
        if (!next.hasAttribute('tabindex') && /^H/.test(next.tagName)) next.setAttribute('tabindex', '-1');
        next.focus({ preventScroll: true });
      }
    }
    return true;
  };
  bismar.say = function (element, text) { if (element.textContent !== text) element.textContent = text; };
})();
