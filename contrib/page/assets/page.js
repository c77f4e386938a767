// SPDX-License-Identifier: MIT
// What is known (bismar.state), the stream it comes by, calls, and which part of the page is shown.
'use strict';
(function () {
  const SILENCE_MS = 45000; // the server says something every 15 s
  const CALL_MS = 20000; // the server's own limit is shorter; a lost phone network has none
  const LIVE_MS = 8000; // as the terminal: what the scale showed before isn't shown
  const IDLE_MS = 15000; // nobody has touched the page for so long: a question brings itself up
  const MOST_NOTES = 4;
  const UNREAD = 'Not all could be read: ';
  const $ = function (id) { return document.getElementById(id); };
  const state = {
    stream: 'connecting', lostAt: null, up: null, why: '', asks: [], shown: '', wanted: '', animals: [], scales: [], stands: [],
    radio: '', concerns: [], caution: '', rounds: [], live: null, done: null, message: null, notes: [], busy: '',
    view: 'now', pup: null, loaded: false
  };
  let heard = Date.now(), touched = 0, stream = null, retry = 0, retryTimer = null, drawing = false, urgentTold = {}, wake = null;
  bismar.state = state;

  // Only what was heard just now may be answered to.
  bismar.fresh = function () { return state.stream === 'open' && state.up === true; };

  // ---- calls ----
  function toPair() { location.replace('/pair'); }

  function read(response) {
    if (response.status === 401) { toPair(); throw { code: 'not-paired', message: 'This phone isn\u2019t paired any more.' }; }
    return response.json().catch(function () { return {}; }).then(function (body) {
      if (response.ok && body) return body;
      throw Object.assign({ code: 'http-' + response.status, message: 'The page\u2019s server answered ' + response.status + '.' },
        body && body.error, { status: response.status });
    });
  }
  function within(promise, ms, change) {
    return new Promise(function (resolve, reject) {
      const timer = setTimeout(function () { reject({ code: 'timeout', message: 'No answer came in time.', unknown: change }); }, ms);
      promise.then(function (value) { clearTimeout(timer); resolve(value); }, function (error) {
        clearTimeout(timer);
        reject(error);
      });
    });
  }
  function failed(error) {
    if (error && error.code) {
      // 504: it was sent on and no reply came. Any other status says that it wasn't done.
      if (error.code === 'timeout') error.unknown = true;
      throw error;
    }
    throw { code: 'lost', message: 'The page\u2019s server doesn\u2019t answer.', hint: 'See that the phone is in reach of its network.',
      unknown: true };
  }
  // Resolves to the result; rejects with {code, message, hint, unknown}: unknown when it may have been done all the same.
  bismar.call = function (method, params) {
    return within(fetch('/call', { method: 'POST', credentials: 'same-origin', cache: 'no-store',
      headers: { 'Content-Type': 'application/json', 'X-Bismar': '1' }, body: JSON.stringify({ method: method, params: params || {} }) })
      .then(read), CALL_MS, true).then(function (body) { return body.result; }, failed);
  };
  bismar.get = function (path) {
    return within(fetch(path, { credentials: 'same-origin', cache: 'no-store' }).then(read), CALL_MS, false).catch(failed);
  };
  bismar.explain = function (error) {
    const text = bismar.refusal(error);
    return error && error.unknown ? text + ' ' + bismar.UNKNOWN + ' Look at what is shown now before you do it again.' : text;
  };

  // ---- messages ----
  bismar.tell = function (text, bad) {
    state.message = { text: text, bad: !!bad, at: Date.now() };
    bismar.draw();
  };
  bismar.announce = function (text) { bismar.say($('called'), text); };

  // ---- what is known ----
  function find(list, key, value) {
    for (let i = 0; i < list.length; i++) if (list[i][key] === value) return list[i];
    return null;
  }
  bismar.animal = function (id) { return find(state.animals, 'animal', id); };
  bismar.shown = function () { return find(state.asks, 'ask', state.shown) || state.asks[0] || null; };

  function dropAsk(id) {
    const was = bismar.shown();
    state.asks = state.asks.filter(function (ask) { return ask.ask !== id; });
    return was && was.ask === id ? was : null;
  }
  bismar.dropAsk = dropAsk;

  function takeAsk(ask) {
    const old = find(state.asks, 'ask', ask.ask);
    if (old) state.asks[state.asks.indexOf(old)] = ask;
    else state.asks.push(ask);
    state.asks.sort(function (a, b) { return (bismar.ms(a.at) || 0) - (bismar.ms(b.at) || 0); });
    if (state.asks.length > 256) state.asks.length = 256; // the daemon has no more
    if (state.done && state.done.ask === ask.ask) state.done = null; // it is open again
    if (state.wanted === ask.ask || !find(state.asks, 'ask', state.shown)) {
      state.shown = state.wanted === ask.ask ? ask.ask : state.asks[0].ask;
      state.wanted = '';
      if (!old) bismar.announce(bismar.text(ask.say));
      if (!old && state.message && !state.message.bad) state.message = null; // it was about something before
    }
    dropNote('below ' + ask.scale);
    if (Date.now() - touched > IDLE_MS && !typing()) bismar.show('now');
  }
  function dropNote(about) { state.notes = state.notes.filter(function (note) { return note.about !== about; }); }
  function addNote(about, text, container) {
    dropNote(about);
    state.notes.unshift({ about: about, text: text, container: container, at: Date.now() });
    state.notes.length = Math.min(state.notes.length, MOST_NOTES);
  }

  const topics = {
    link: function (p) {
      state.up = p.up === true;
      if (state.up) bismar.ounces = p.units === 'oz';
      state.why = bismar.text(p.say);
      forget();
      if (state.up) bismar.load();
    },
    ask: takeAsk,
    withdraw: function (p) {
      if (dropAsk(p.ask) && state.busy !== p.ask) bismar.tell('That question was closed: ' + bismar.text(p.why) + '.');
    },
    recorded: function (p) {
      dropAsk(p.ask);
      bismar.moment.recorded(p);
      later();
    },
    imported: function () { later(); },
    live: function (p) { state.live = Object.assign({ at: Date.now() }, p); },
    concern: function (p) {
      state.concerns = state.concerns.filter(function (one) { return one.concern !== p.concern; });
      if (p.open !== false) {
        state.concerns.push(p);
        urgent([p]);
      }
      later();
    },
    round: function (p) {
      state.rounds = state.rounds.filter(function (one) { return one.litter !== p.litter; });
      state.rounds.push(p);
    },
    scale: function (p) {
      state.scales = state.scales.filter(function (one) { return one.scale !== p.scale; });
      state.scales.push(p);
    },
    container: function (p) {
      const about = String(p.scale);
      dropNote('below ' + about);
      if (p.what === 'tared' || p.what === 'checked') dropNote('drifted ' + about);
      if (p.what === 'tared' || p.what === 'lapsed') bismar.tell(bismar.text(p.say));
      if (p.what === 'drifted' || p.what === 'below') addNote(p.what + ' ' + about, bismar.text(p.say), p.what === 'drifted' ? p.container : null);
    },
    revoked: toPair
  };

  function forget() {
    state.asks = [];
    state.scales = [];
    state.rounds = [];
    state.concerns = [];
    state.live = null;
    state.loaded = false;
  }

  // Once for each concern that is new to this page: it interrupts a screen reader.
  function urgent(list) {
    const fresh = list.filter(function (one) { return one.level === 'vet' && !urgentTold[one.concern]; });
    const told = {};
    state.concerns.forEach(function (one) { if (one.level === 'vet') told[one.concern] = true; });
    urgentTold = told;
    if (fresh.length) bismar.say($('urgent'), fresh.map(function (one) {
      return bismar.level('vet') + ': ' + bismar.text(one.text);
    }).join(' '));
  }

  let laterTimer = null;
  function later(ms) { // several changes, one look
    if (laterTimer === null) laterTimer = setTimeout(function () { laterTimer = null; bismar.load(); }, ms || 400);
  }
  // What each weighed before its newest weighing, as far as this page has seen: a look may come before the news of a reading.
  function withBefore(animals) {
    animals.forEach(function (animal) {
      const known = bismar.animal(animal.animal);
      if (known) animal.before = known.newest_ms === animal.newest_ms ? known.before : bismar.moment.newest(known);
    });
    return animals;
  }
  bismar.load = function () {
    if (!bismar.fresh()) return Promise.resolve();
    const of = stream;
    return Promise.all([bismar.call('status'), bismar.call('round'), bismar.call('concerns'), bismar.get('/animals')]).then(function (all) {
      if (of !== stream || !bismar.fresh()) return;
      const radio = all[0].radio || {};
      state.scales = all[0].scales || [];
      state.radio = radio.trouble && radio.trouble !== 'fine' ? bismar.text(radio.text || radio.trouble) : '';
      state.pending = all[0].pending || 0;
      state.rounds = all[1].rounds || [];
      state.concerns = all[2].concerns || [];
      state.caution = bismar.text(all[2].say);
      state.animals = withBefore(all[3].animals || []);
      state.stands = all[3].scales || [];
      state.loaded = true;
      if (state.message && state.message.text.indexOf(UNREAD) === 0) state.message = null;
      urgent(state.concerns);
      bismar.draw();
      bismar.bedside.refresh();
    }).catch(function (error) {
      if (of !== stream || !bismar.fresh()) return;
      bismar.tell(UNREAD + bismar.refusal(error) + ' It tries again by itself.', true);
      later(5000);
    });
  };
  // After an answer that may or may not have been done: what is open is asked anew.
  bismar.again = function () {
    return bismar.call('asks').then(function (result) {
      state.asks = [];
      (result.asks || []).forEach(takeAsk);
      return bismar.load();
    }).catch(function () { lost(); });
  };

  // ---- the stream: read with fetch, since only so the server's signs of life (comments) are seen ----
  function take(block) {
    let topic = '', data = '';
    block.split('\n').forEach(function (line) {
      if (line.indexOf('event:') === 0) topic = line.slice(6).trim();
      if (line.indexOf('data:') === 0) data += line.slice(5).trim();
    });
    if (!topic || !Object.prototype.hasOwnProperty.call(topics, topic)) return;
    let params;
    try { params = JSON.parse(data || '{}'); } catch (e) { return; } // cut: the next connection has it
    topics[topic](params || {});
    bismar.draw();
  }
  function listen(mine, reader) {
    const decoder = new TextDecoder();
    let rest = '';
    return reader.read().then(function step(part) {
      if (mine !== stream) return null;
      if (part.done) { lost(); return null; }
      heard = Date.now();
      rest = (rest + decoder.decode(part.value, { stream: true })).replace(/\r\n?/g, '\n');
      const blocks = rest.split('\n\n');
      rest = blocks.pop();
      blocks.forEach(take);
      if (rest.length > 1048576) { lost(); return null; }
      return reader.read().then(step);
    });
  }
  function connect() {
    const mine = { stop: null }, abort = window.AbortController ? new AbortController() : null;
    stream = mine;
    clearTimeout(retryTimer);
    heard = Date.now();
    mine.stop = function () { if (abort) abort.abort(); };
    fetch('/events', { credentials: 'same-origin', cache: 'no-store', headers: { Accept: 'text/event-stream' },
      signal: abort ? abort.signal : undefined }).then(function (response) {
      if (mine !== stream) return null;
      if (response.status === 401) { toPair(); return null; }
      if (!response.ok || !response.body) { lost(); return null; }
      state.stream = 'open';
      state.up = null;
      retry = 0;
      const reader = response.body.getReader();
      mine.stop = function () { reader.cancel().catch(function () {}); if (abort) abort.abort(); };
      bismar.draw();
      return listen(mine, reader);
    }).catch(function () { if (mine === stream) lost(); });
  }
  function lost() {
    const was = stream;
    stream = null;
    if (was) was.stop();
    if (state.stream !== 'lost') state.lostAt = heard;
    state.stream = 'lost';
    state.up = null;
    state.live = null;
    retry = Math.min(retry + 1, 5);
    clearTimeout(retryTimer);
    retryTimer = setTimeout(connect, 1000 * Math.pow(2, retry - 1)); // 1, 2, 4, 8, 16 s
    bismar.draw();
  }
  function watch() {
    if (stream && Date.now() - heard > SILENCE_MS) lost();
    if (state.live && Date.now() - state.live.at > LIVE_MS) state.live = null;
    bismar.draw();
  }

  // ---- parts of the page ----
  function typing() {
    const on = document.activeElement;
    return !!on && /^(INPUT|TEXTAREA|SELECT)$/.test(on.tagName);
  }
  bismar.show = function (view) {
    if (state.view !== view) {
      window.scrollTo(0, 0);
      bismar.seenAt = performance.now(); // a second touch was meant for what stood there before
    }
    state.view = view;
    bismar.draw();
  };
  function strip() {
    const parts = state.scales.map(function (scale) {
      const battery = bismar.isNumber(scale.battery) ? ', battery ' + scale.battery + '\u00a0%' : '';
      return bismar.text(scale.scale) + ' ' + bismar.linkWord(scale.state) + (scale.battery_low ? ', battery low' : battery);
    });
    bismar.say($('scales'), state.stream !== 'open' ? (state.stream === 'lost' ? 'no connection' : 'connecting')
      : state.up === false ? 'no daemon' : state.radio ? 'no radio' : parts.join(' \u00b7 ') || (state.loaded ? 'no scale adopted' : ''));
    bismar.say($('time'), bismar.clock(Date.now()));
  }
  function trouble() {
    const line = $('lost');
    let text = '';
    if (state.stream === 'lost') text = 'The connection to the page\u2019s server is lost: what stands here is old, from ' +
      bismar.when(state.lostAt) + '. It tries again by itself. Is the phone in its network, and the computer on?';
    else if (state.up === false) text = bismar.stop(state.why || 'bismard doesn\u2019t answer') +
      (/start bismard/.test(state.why) ? '' : ' On the computer: systemctl start bismard.') +
      ' Write weights on paper meanwhile.';
    line.hidden = !text;
    bismar.say(line, text);
    document.body.className = text ? 'stale' : '';
  }
  function waiting() {
    const ask = bismar.shown(), button = $('waiting');
    button.hidden = state.view === 'now' || !ask;
    bismar.say(button, ask ? bismar.mass(ask.net_g) + ': whose is it? Answer' : '');
  }
  function tabs() {
    const worst = state.concerns.length ? Math.min.apply(null, state.concerns.map(function (one) { return bismar.rank(one.level); })) : -1;
    Array.prototype.forEach.call(document.querySelectorAll('nav button'), function (button) {
      const view = button.getAttribute('data-view');
      if (view === state.view) button.setAttribute('aria-current', 'page');
      else button.removeAttribute('aria-current');
      if (view === 'concerns') {
        bismar.say(button, worst === 0 ? 'Call vet' : state.concerns.length ? 'Concerns ' + state.concerns.length : 'Concerns');
        button.className = worst === 0 ? 'vet' : '';
      }
    });
    ['now', 'round', 'concerns', 'pups'].forEach(function (view) { $(view).hidden = view !== state.view; });
  }
  function draw() {
    drawing = false;
    strip();
    trouble();
    tabs();
    waiting();
    bismar.moment.draw();
    if (state.view === 'now' || state.view === 'concerns' || state.view === 'round') bismar.lists.draw();
    if (state.view === 'pups') bismar.bedside.draw();
    bismar.say($('foot'), wake ? 'The screen stays on while this page is open.'
      : 'The screen may go dark by itself: set that in the phone\u2019s settings.');
  }
  // A hidden page draws nothing; it draws when it is seen again.
  bismar.draw = function () {
    if (drawing) return;
    drawing = true;
    (document.hidden ? setTimeout : requestAnimationFrame)(draw, 250);
  };

  function stayAwake() {
    if (!navigator.wakeLock || document.hidden || wake) return;
    navigator.wakeLock.request('screen').then(function (lock) {
      wake = lock;
      lock.addEventListener('release', function () { wake = null; bismar.draw(); });
      bismar.draw();
    }).catch(function () { wake = null; });
  }

  document.addEventListener('visibilitychange', function () {
    if (document.hidden) return;
    stayAwake();
    watch(); // the phone may have slept with the page: old values are marked before they are seen
    if (!stream) connect();
  });
  window.addEventListener('online', function () { if (!stream) connect(); });
  window.addEventListener('offline', function () { if (stream) lost(); });
  window.addEventListener('pagehide', function () { if (stream) stream.stop(); });
  window.addEventListener('pageshow', function (event) { if (event.persisted) { lost(); connect(); } });
  ['pointerdown', 'keydown'].forEach(function (type) {
    document.addEventListener(type, function () { touched = Date.now(); }, { passive: true });
  });
  Array.prototype.forEach.call(document.querySelectorAll('nav button'), function (button) {
    button.addEventListener('click', function () {
      if (button.getAttribute('data-view') === 'pups') state.pup = null;
      bismar.show(button.getAttribute('data-view'));
    });
  });
  $('waiting').addEventListener('click', function () { bismar.show('now'); });
  setInterval(watch, 2000);
  stayAwake();
  connect();
  bismar.draw();
})();
