// SPDX-License-Identifier: MIT
// The question of the moment: what is on the scale, whose it is, and what was just recorded.
'use strict';
(function () {
  const MOST = 4; // pups that are offered at once; "other pup" has all
  const UNDO_MS = 600000; // how long what was recorded stands here with its undo
  const SAID_MS = 20000;
  const el = bismar.el;
  const moment = {};
  let open = { ask: '', part: '' }; // part: '', 'all', 'born'
  let sex = '';
  bismar.moment = moment;

  function part(ask) { return open.ask === ask.ask ? open.part : ''; }
  function turn(ask, to) {
    open = { ask: ask.ask, part: to };
    sex = '';
    bismar.draw();
  }

  // ---- what is sent ----
  function done(id) { if (bismar.state.busy === id) bismar.state.busy = ''; bismar.draw(); }

  function send(ask, method, params, after) {
    const s = bismar.state;
    if (s.busy || !bismar.fresh()) return;
    s.busy = ask;
    s.message = null;
    bismar.draw();
    bismar.call(method, params).then(after).catch(function (error) {
      if (error.code === 'already-answered') bismar.dropAsk(ask);
      if (s.wanted === ask) s.wanted = '';
      bismar.tell(bismar.explain(error), true);
      return error.unknown || error.code === 'already-answered' || error.code === 'not-found' ? bismar.again() : null;
    }).then(function () { done(ask); });
  }
  function answer(ask, id) {
    send(ask.ask, 'answer', { ask: ask.ask, animal: id }, function (result) {
      bismar.dropAsk(ask.ask);
      moment.recorded(result);
    });
  }
  function aside(ask) {
    send(ask.ask, 'aside', { ask: ask.ask }, function () {
      bismar.dropAsk(ask.ask);
      bismar.state.done = { ask: ask.ask, aside: true, net_g: ask.net_g, at: Date.now() };
    });
  }
  function undo(was) {
    bismar.state.wanted = was.ask;
    send(was.ask, 'reopen', { ask: was.ask }, function () {
      if (bismar.state.done && bismar.state.done.ask === was.ask) bismar.state.done = null;
      bismar.tell('Taken back: ' + (was.aside ? '' : bismar.text(was.name) + ' ') + bismar.mass(was.net_g) + '. The question is open again.');
    });
  }
  function born(ask, collar) {
    const params = { ask: ask.ask, litter: ask.whelping };
    if (sex) params.sex = sex;
    if (collar) params.collar = collar;
    send(ask.ask, 'whelping.pup', params, function (result) {
      bismar.dropAsk(ask.ask);
      bismar.tell('New in ' + bismar.text(result.litter) + ': ' + bismar.text(result.name) + ', ' + bismar.mass(result.birth_g) +
        (result.restless ? ' (it didn\u2019t hold still)' : '') + '. `bismar animal alias` gives it another name.');
      bismar.load();
    });
  }

  // Its newest weighing, or else its birth weight; null: neither is known.
  moment.newest = function (animal) {
    if (bismar.isNumber(animal.newest_g)) return { g: animal.newest_g, u: animal.newest_u_g, ms: animal.newest_ms, step: animal.scale_step_g };
    return bismar.isNumber(animal.birth_g) ? { g: animal.birth_g, birth: true } : null;
  };

  // What it weighed before that time; null: nothing; undefined: it isn't known here.
  function before(animal, at) {
    if (!animal) return undefined;
    const was = animal.newest_ms >= at ? animal.before : moment.newest(animal);
    return was && was.ms >= at ? undefined : was;
  }

  // From the reply and from the notification, whichever is first; what it weighed before is known only until the next look.
  moment.recorded = function (p) {
    const s = bismar.state, animal = bismar.animal(p.animal), at = bismar.ms(p.at);
    const same = s.done && s.done.ask === p.ask && s.done.animal === p.animal ? s.done : null;
    s.done = { ask: p.ask, animal: p.animal, name: p.name, by: p.by, net_g: p.net_g, u_g: p.u_g, at: same ? same.at : Date.now(),
      corrected: !!p.corrected,
      before: same ? same.before : before(animal, at) };
    bismar.announce(sentence(s.done));
    bismar.draw();
  };

  function difference(was) {
    if (!was.before) return was.before === null ? ', its first weighing here' : '';
    const gain = was.net_g - was.before.g;
    const fine = Math.abs(gain) < 10 && Math.round(gain * 10) % 10 !== 0;
    return ', ' + bismar.gain(gain, fine ? 1 : 0) + ' since ' + (was.before.birth ? 'birth' : bismar.when(was.before.ms));
  }
  function surety(was) {
    if (!was.before || was.before.birth) return ''; // nobody knows on which scale that was
    const told = bismar.told(was.net_g - was.before.g, was.u_g, was.before.u, was.before.step);
    return told === null ? '' : told ? 'real: more than the scale\u2019s step (a full belly weighs too)'
      : 'not yet told apart from the scale\u2019s step';
  }
  function sentence(was) {
    if (was.aside) return 'Set aside: ' + bismar.mass(was.net_g) + '.';
    const sure = surety(was);
    return 'Recorded: ' + bismar.text(was.name) + ' ' + bismar.mass(was.net_g) + difference(was) + (sure ? ', ' + sure : '') + '.';
  }

  // ---- what is shown ----
  function figure(g, className) {
    const text = bismar.figure(g);
    return el('p', { class: 'figure ' + className + (text.length > 6 ? ' longest' : text.length > 4 ? ' long' : '') },
      el('span', {}, text), el('span', { class: 'unit' }, '\u00a0' + bismar.unit()));
  }
  function choice(ask, c) {
    const s = bismar.state;
    const expects = bismar.isNumber(c.expected_g) ? 'expected ' + bismar.about(c.expected_g) +
      (bismar.isNumber(c.u_expected_g) ? ' \u00b1\u00a0' + bismar.about(c.u_expected_g) : '') : '';
    return bismar.button({ class: 'choice', 'data-key': 'pup ' + c.animal, disabled: !!s.busy || !bismar.fresh() },
      function () { answer(ask, c.animal); },
      el('span', { class: 'top' }, bismar.name(c.name), bismar.collar(c.collar)),
      el('span', { class: 'small' }, [expects, bismar.isNumber(c.probability) ? Math.round(c.probability * 100) + '\u00a0%' : '']
        .filter(Boolean).join(', ')));
  }
  function lastOf(animal) {
    return { animal: animal.animal, name: animal.name, collar: animal.collar, last: animal };
  }
  function other(ask, animal) {
    const s = bismar.state, c = lastOf(animal);
    return bismar.button({ class: 'choice', 'data-key': 'all ' + c.animal, disabled: !!s.busy || !bismar.fresh() },
      function () { answer(ask, c.animal); },
      el('span', { class: 'top' }, bismar.name(c.name), bismar.collar(c.collar)),
      el('span', { class: 'small' }, bismar.isNumber(animal.newest_g) ? 'weighed ' + bismar.mass(animal.newest_g) + ', ' +
        bismar.when(animal.newest_ms) : 'not weighed yet', s.several ? ', ' + bismar.text(animal.litter) : ''));
  }
  // One less on a small screen where the undo of the one before stands below.
  function most() { return bismar.state.done && window.innerHeight < 700 ? MOST - 1 : MOST; }
  function likely(ask) {
    return (ask.candidates || []).filter(function (c, i) { return i < 2 || !(c.probability < 0.02); }).slice(0, most());
  }
  function litterOf(ask) {
    const all = bismar.state.animals, own = all.filter(function (a) { return a.litter === ask.litter; });
    return (own.length ? own.concat(all.filter(function (a) { return a.litter !== ask.litter; })) : all);
  }
  function details(ask) {
    return el('p', { class: 'detail' }, [bismar.when(ask.at) + (ask.scale && bismar.state.scales.length > 1 ? ' on ' + bismar.text(ask.scale) : ''),
      ask.tare_g ? bismar.mass(ask.gross_g) + ' less ' + (bismar.text(ask.container) || 'container') + ' ' + bismar.mass(ask.tare_g) : '',
      ask.u_g ? '\u00b1\u00a0' + bismar.mass(Math.round(ask.u_g * 10) / 10) : '',
      ask.state === 'restless' ? 'restless: less sure' : ''].filter(Boolean).join(' \u00b7 '));
  }
  function drawAll(box, ask) {
    const list = el('div', { class: 'choices' });
    litterOf(ask).forEach(function (animal) { list.appendChild(other(ask, animal)); });
    box.appendChild(list);
    box.appendChild(el('div', { class: 'pair' }, bismar.button({ class: 'plain', 'data-key': 'back' }, function () { turn(ask, ''); }, 'Back')));
  }
  function drawBorn(box, ask) {
    const id = 'collar-' + ask.ask, collar = el('input', { id: id, type: 'text', autocomplete: 'off', maxlength: '64' });
    const sexes = el('div', { class: 'three', role: 'group', 'aria-label': 'Sex' });
    [['f', 'girl'], ['m', 'boy'], ['', 'not told']].forEach(function (one) {
      sexes.appendChild(bismar.button({ class: 'plain', 'aria-pressed': String(sex === one[0]) }, function (button) {
        sex = one[0];
        Array.prototype.forEach.call(sexes.children, function (b) { b.setAttribute('aria-pressed', String(b === button)); });
      }, one[1]));
    });
    box.appendChild(el('p', {}, 'A new pup of ' + bismar.text(ask.whelping) + '; ' + bismar.mass(ask.net_g) + ' is its birth weight.'));
    box.appendChild(sexes);
    box.appendChild(el('label', { for: id }, 'Collar, if it has one'));
    box.appendChild(collar);
    box.appendChild(bismar.button({ class: 'big', disabled: !!bismar.state.busy || !bismar.fresh() }, function () { born(ask, collar.value.trim()); },
      'Note the new pup'));
    box.appendChild(el('div', { class: 'pair' }, bismar.button({ class: 'plain' }, function () { turn(ask, ''); }, 'Back')));
  }
  function drawLikely(box, ask) {
    const s = bismar.state, list = el('div', { class: 'choices' }), off = !!s.busy || !bismar.fresh();
    likely(ask).forEach(function (c) { list.appendChild(choice(ask, c)); });
    if (ask.whelping) list.appendChild(bismar.button({ class: 'choice', 'data-key': 'born' }, function () { turn(ask, 'born'); },
      el('span', { class: 'top' }, 'a new pup of ' + bismar.text(ask.whelping) + '\u2026')));
    box.appendChild(list);
    box.appendChild(el('div', { class: 'pair' },
      bismar.button({ class: 'plain', 'data-key': 'other' }, function () { turn(ask, 'all'); }, 'other pup\u2026'),
      bismar.button({ class: 'plain', 'data-key': 'aside', disabled: off }, function () { aside(ask); }, 'set aside')));
  }
  function drawAsk(box, ask) {
    const s = bismar.state, more = s.asks.length - 1;
    const h = el('h2', { class: 'question' }, s.busy === ask.ask ? 'Sending\u2026' : ask.whelping ? 'Who is it, or a new pup?' : 'Who is it?');
    if (more > 0) h.appendChild(el('span', { class: 'more' }, ' ' + more + ' more wait' + (more === 1 ? 's' : '')));
    box.appendChild(figure(ask.net_g, bismar.fresh() ? 'asked' : 'asked old'));
    if (!bismar.fresh()) box.appendChild(el('p', { class: 'old-words' }, 'old: can\u2019t be answered now'));
    box.appendChild(details(ask));
    box.appendChild(h);
    (part(ask) === 'all' ? drawAll : part(ask) === 'born' ? drawBorn : drawLikely)(box, ask);
  }

  // The live figure changes up to ten times a second: only its text is set, and no screen reader is told.
  function drawLive(box) {
    box.appendChild(el('h2', { class: 'question', id: 'live-head' }));
    box.appendChild(el('p', { class: 'figure', id: 'live' }, el('span', { id: 'live-g' }), el('span', { class: 'unit' }, '\u00a0' + bismar.unit())));
    box.appendChild(el('p', { class: 'detail', id: 'live-words' }));
  }
  function setLive(box) {
    const s = bismar.state, live = s.live;
    const head = box.querySelector('#live-head'), g = box.querySelector('#live-g'), words = box.querySelector('#live-words');
    const text = live ? bismar.figure(Math.round(live.net_g * 10) / 10) : '';
    if (!head) return;
    box.querySelector('#live').hidden = !live;
    box.querySelector('#live').className = 'figure moving' + (text.length > 6 ? ' longest' : text.length > 4 ? ' long' : '');
    bismar.say(g, text);
    bismar.say(head, s.stream === 'lost' ? 'No connection' : s.up === false ? 'bismard doesn\u2019t answer' : s.stream !== 'open' || !s.loaded ? 'Connecting'
      : live ? (live.steady ? 'Steady' : 'Settling') : s.radio ? 'No scale is heard' : s.scales.length === 0 ? 'No scale adopted'
        : 'Nothing to answer');
    bismar.say(words, !bismar.fresh() ? '' : live ? 'now on ' + bismar.text(live.scale) + ', ' + (live.steady ? 'steady' : 'moving: wait until it holds still')
      : s.radio ? bismar.stop(s.radio) + ' On the computer: bismar checkup.' : !s.loaded ? '' : s.scales.length === 0 ? 'On the computer: bismar scale find, then bismar scale adopt.' :
        s.scales.every(function (one) { return one.state === 'away' || one.state === 'lost'; }) ? 'The scale is ' +
          bismar.linkWord(s.scales[0].state) + '. Load it or press its button to wake it.' : 'Put a pup on the scale.');
  }
  function besides(ask) { // the scale goes on while a question is open
    const s = bismar.state, line = document.getElementById('beside');
    if (!line || !ask) return;
    line.hidden = !s.live || Math.abs(s.live.net_g - ask.net_g) < 0.05;
    bismar.say(line, s.live ? 'now on the scale: ' + bismar.mass(Math.round(s.live.net_g * 10) / 10) + ', ' + (s.live.steady ? 'steady' : 'moving') : '');
  }

  function drawDone(box, was) {
    const bad = !bismar.fresh() || !!bismar.state.busy;
    if (bismar.shown()) { // in short: the next question has the screen
      box.appendChild(bismar.button({ class: 'big undo', 'data-key': 'undo', disabled: bad }, function () { undo(was); }, 'Undo: ',
        was.aside ? 'set aside' : bismar.name(was.name), ' ' + bismar.mass(was.net_g) + (was.before ? difference(was) : '')));
      return;
    }
    if (was.aside) box.appendChild(el('p', {}, 'Set aside: ' + bismar.mass(was.net_g) + '. It stays in the ledger and belongs to nobody.'));
    else {
      box.appendChild(el('p', { class: 'recorded' }, el('strong', {}, was.corrected ? 'corrected: ' : 'recorded: ', bismar.name(was.name), ' ' +
        bismar.mass(was.net_g)), difference(was)));
      box.appendChild(el('p', { class: 'small' }, [surety(was), was.by ? 'by ' + bismar.text(was.by) : ''].filter(Boolean).join(' \u00b7 ')));
    }
    box.appendChild(bismar.button({ class: 'big undo', 'data-key': 'undo', disabled: bad }, function () { undo(was); },
      'Undo', was.aside ? '' : ': it wasn\u2019t ', was.aside ? null : bismar.name(was.name)));
  }
  function drawNotes(box) {
    const pending = bismar.state.pending;
    if (pending) box.appendChild(el('div', { class: 'note' }, el('p', {}, pending + (pending === 1 ? ' result' : ' results') +
      ' can\u2019t be written to the database yet. On the computer: bismar checkup.')));
    bismar.state.notes.forEach(function (note) {
      box.appendChild(el('div', { class: 'note' }, el('p', {}, note.text + ' (' + bismar.when(note.at) + ')'),
        note.container ? bismar.button({ class: 'plain' }, function () {
          bismar.call('container.tare', { container: note.container }).then(function (result) {
            bismar.tell('Put the empty ' + bismar.text(result.container) + ' on the scale within ' + result.seconds + ' seconds.');
          }).catch(function (error) { bismar.tell(bismar.explain(error), true); });
        }, 'weigh the empty ' + bismar.text(note.container) + '\u2026') : null));
    });
  }

  moment.draw = function () {
    const s = bismar.state, ask = bismar.shown(), box = document.getElementById('ask'), said = document.getElementById('said');
    const fresh = bismar.fresh(), litters = {};
    s.animals.forEach(function (a) { litters[a.litter] = true; });
    s.several = Object.keys(litters).length > 1;
    if (s.done && Date.now() - s.done.at > UNDO_MS) s.done = null;
    if (s.message && Date.now() - s.message.at > SAID_MS && !s.message.bad) s.message = null;
    if (ask) bismar.fill(box, JSON.stringify(['ask', ask, part(ask), s.asks.length, s.busy, fresh, s.scales.length > 1, most(), part(ask) === 'all' ? s.animals : 0]),
      function () {
        drawAsk(box, ask);
        box.appendChild(el('p', { id: 'beside', class: 'detail', hidden: true }));
      });
    else bismar.fill(box, 'live', drawLive);
    setLive(box);
    besides(ask);
    if (said.textContent !== (s.message ? s.message.text : '')) bismar.seenAt = performance.now(); // what is below it moves
    said.hidden = !s.message;
    said.className = s.message && s.message.bad ? 'bad' : '';
    bismar.say(said, s.message ? s.message.text : '');
    bismar.fill(document.getElementById('done'), JSON.stringify([s.done, fresh, s.busy, !!ask, s.done ? new Date().toDateString() : 0]), function (d) {
      if (s.done) drawDone(d, s.done);
    });
    bismar.fill(document.getElementById('notes'), JSON.stringify([s.notes, s.pending, new Date().toDateString()]), drawNotes);
  };
})();
