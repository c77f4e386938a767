// SPDX-License-Identifier: MIT
// Lists: who is left in the round, and the concerns, worst first.
'use strict';
(function () {
  const el = bismar.el, lists = {};
  let sure = ''; // what has to be said twice, and was said once
  bismar.lists = lists;

  // Each level has its word and its shape; colour only goes along.
  const SHAPES = { vet: 'M16 2h16l14 14v16L32 46H16L2 32V16z', act: 'M24 4 46 44H2z', look: 'M24 4a20 20 0 1 0 .1 0z' };
  const SIGNS = { vet: 'M22 12h4v16h-4zM22 32h4v4h-4z', act: 'M22 18h4v13h-4zM22 34h4v4h-4z', look: 'M22 12h4v4h-4zM22 20h4v16h-4z' };
  function shape(level) {
    const known = SHAPES[level] ? level : 'vet', svg = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
    svg.setAttribute('viewBox', '0 0 48 48');
    svg.setAttribute('class', 'shape');
    svg.setAttribute('aria-hidden', 'true');
    [[SHAPES[known], 'outer'], [SIGNS[known], 'inner']].forEach(function (one) {
      const path = document.createElementNS('http://www.w3.org/2000/svg', 'path');
      path.setAttribute('d', one[0]);
      path.setAttribute('class', one[1]);
      svg.appendChild(path);
    });
    return svg;
  }
  function worstFirst(list) {
    return list.slice().sort(function (a, b) { return bismar.rank(a.level) - bismar.rank(b.level) || (b.since_ms || 0) - (a.since_ms || 0); });
  }
  function known(level) { return SHAPES[level] ? level : 'vet'; }

  function concern(one) {
    const since = bismar.isNumber(one.since_ms) ? ', since ' + bismar.when(one.since_ms) : '';
    return el('article', { class: 'concern ' + known(one.level) },
      el('h3', {}, shape(one.level), el('span', {}, bismar.level(one.level) + ': ',
        one.name ? bismar.name(one.name) : 'the litter', one.name ? ' (' : ' ', el('bdi', {}, bismar.text(one.litter)), one.name ? ')' : '', since)),
      el('p', {}, bismar.text(one.text)),
      el('p', {}, el('strong', {}, 'Do: '), bismar.text(one.advice)),
      el('p', { class: 'small' }, 'Rule ' + bismar.text(one.rule) + '. Source: ' + bismar.text(one.source)),
      one.animal ? bismar.button({ class: 'plain', 'data-key': 'see ' + one.concern }, function () { bismar.bedside.open(one.animal); },
        'See ', bismar.name(one.name)) : null);
  }
  lists.concerns = function (box, list, caution) {
    worstFirst(list).forEach(function (one) { box.appendChild(concern(one)); });
    box.appendChild(el('p', { class: 'vetline' }, bismar.VET_FIRST));
    if (caution) box.appendChild(el('p', { class: 'small' }, caution));
  };
  function drawConcerns(box) {
    const s = bismar.state;
    bismar.fill(box, JSON.stringify([s.concerns, s.caution, s.loaded, new Date().toDateString()]), function () {
      box.appendChild(el('h2', {}, s.concerns.length ? 'Concerns, worst first' : s.loaded ? 'No concern is open' : 'Concerns aren\u2019t known now'));
      if (!s.concerns.length && s.loaded) box.appendChild(el('p', {}, 'A scale sees mass alone. Look at each pup all the same.'));
      lists.concerns(box, s.concerns, s.caution);
    });
  }
  // Beside the question: who is left, and each concern in a line.
  function drawWorst(box) {
    const s = bismar.state;
    bismar.fill(box, JSON.stringify([s.concerns, s.rounds]), function () {
      s.rounds.filter(function (r) { return r.ended === false; }).forEach(function (r) {
        const left = r.left || [], p = el('p', { class: 'left' }, left.length ? 'Still to weigh in ' : 'All of ', el('bdi', {}, bismar.text(r.litter)),
          left.length ? ': ' : ' are weighed.');
        left.forEach(function (name, i) { p.appendChild(el('span', {}, i ? ', ' : '', bismar.name(name))); });
        box.appendChild(p);
      });
      worstFirst(s.concerns).slice(0, 3).forEach(function (one) {
        const text = bismar.text(one.text), who = bismar.text(one.name || one.litter);
        box.appendChild(bismar.button({ class: 'brief ' + known(one.level) }, function () { bismar.show('concerns'); },
          shape(one.level), el('span', {}, el('strong', {}, bismar.level(one.level) + ': '), text.indexOf(who) < 0 ? who + ': ' : '', text)));
      });
      if (s.concerns.length > 3) box.appendChild(el('p', {}, (s.concerns.length - 3) + ' more: see Concerns.'));
      if (s.concerns.some(function (one) { return bismar.rank(one.level) === 0; })) box.appendChild(el('p', { class: 'vetline' }, bismar.VET));
    });
  }

  // ---- the round ----
  function send(method, params, said) {
    sure = '';
    bismar.call(method, params).then(function (result) {
      bismar.tell(said(result));
      return bismar.load();
    }).catch(function (error) {
      bismar.tell(bismar.explain(error), true);
      return error.unknown ? bismar.load() : null;
    });
  }
  function began(result) { return 'The round of ' + bismar.text(result.litter) + ' has begun.'; }
  function ended(result) { return 'The round of ' + bismar.text(result.litter) + ' is over.'; }
  function twice(key, first, second, act) {
    return bismar.button({ class: 'big', 'data-key': key, disabled: !bismar.fresh() }, function () {
      if (sure === key) { act(); return; }
      sure = key;
      bismar.draw();
    }, sure === key ? second : first);
  }
  function names(list) {
    const ul = el('ul', { class: 'names' });
    list.forEach(function (name) {
      const animal = bismar.state.animals.filter(function (a) { return a.name === name; })[0];
      ul.appendChild(el('li', {}, bismar.name(name), animal ? bismar.collar(animal.collar) : null));
    });
    return ul;
  }
  function exchange(box, litter, round) {
    round.exchanges.forEach(function (one) { box.appendChild(el('p', {}, 'Exchanged? ' + bismar.text(one.say) + '.')); });
    box.appendChild(el('p', { class: 'small' }, 'Look at the pups\u2019 collars first. Nothing is changed by itself.'));
    box.appendChild(twice('exchange ' + litter, 'They were exchanged: correct the first\u2026', 'Yes, I have looked: correct it', function () {
      send('round.exchange', { litter: litter }, function () { return 'The readings are corrected; both answers stay on record.'; });
    }));
  }
  function fed(round) { return round.fed ? ', ' + (round.fed === 'after' ? 'after' : 'before') + ' feeding' : ''; }
  function running(box, litter, round) {
    const left = round.left || [];
    box.appendChild(el('p', {}, 'Since ' + bismar.when(round.begun) + fed(round) + '.'));
    box.appendChild(el('h3', {}, left.length ? 'Still to weigh: ' + left.length : 'All are weighed'));
    box.appendChild(names(left));
    box.appendChild(twice('end ' + litter, 'End the round', left.length ? 'Yes, end it: ' + left.length + ' not weighed' : 'Yes, end it', function () {
      send('round.end', { litter: litter }, ended);
    }));
  }
  function over(box, litter, round) {
    const left = round && round.left || [];
    if (round && round.begun) box.appendChild(el('p', {}, 'The last one, begun ' + bismar.when(round.begun) + fed(round) + ', is over.' +
      (left.length ? ' Not weighed: ' + left.map(bismar.text).join(', ') + '.' : '')));
    if (round && round.exchanges && round.exchanges.length) exchange(box, litter, round);
    box.appendChild(el('h3', {}, 'Begin a round'));
    [['before', 'before feeding'], ['after', 'after feeding'], ['', 'not telling which']].forEach(function (one) {
      box.appendChild(bismar.button({ class: 'big', 'data-key': 'begin ' + litter + one[0], disabled: !bismar.fresh() }, function () {
        send('round.begin', one[0] ? { litter: litter, fed: one[0] } : { litter: litter }, began);
      }, one[1]));
    });
    box.appendChild(el('p', { class: 'small' }, 'Weigh always at the same stage of feeding.'));
  }
  function drawRound(box) {
    const s = bismar.state, message = s.message ? s.message.text : '';
    const litters = [];
    s.animals.forEach(function (a) { if (litters.indexOf(a.litter) < 0) litters.push(a.litter); });
    s.rounds.forEach(function (r) { if (litters.indexOf(r.litter) < 0) litters.push(r.litter); });
    bismar.fill(box, JSON.stringify([s.rounds, litters, s.loaded, bismar.fresh(), sure, message, new Date().toDateString(),
      s.animals.map(function (a) { return a.collar; })]), function () {
      if (message) box.appendChild(el('p', { class: s.message.bad ? 'bad' : 'fine' }, message));
      if (!litters.length) box.appendChild(el('h2', {}, s.loaded ? 'No litter is on record' : 'The round isn\u2019t known now'));
      litters.forEach(function (litter) {
        const round = s.rounds.filter(function (r) { return r.litter === litter; })[0];
        box.appendChild(el('h2', {}, 'Round of ', el('bdi', {}, bismar.text(litter))));
        (round && round.ended === false ? running : over)(box, litter, round);
      });
    });
  }
  lists.draw = function () {
    const s = bismar.state;
    if (s.view !== 'round') sure = '';
    if (s.view === 'now') drawWorst(document.getElementById('worst'));
    if (s.view === 'concerns') drawConcerns(document.getElementById('concerns'));
    if (s.view === 'round') drawRound(document.getElementById('round'));
  };
})();
