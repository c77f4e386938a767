// SPDX-License-Identifier: MIT
// A pup by itself: its curve, what was seen at it, what it was fed, and doses by a vet's order.
'use strict';
(function () {
  const el = bismar.el, bedside = {}, $ = function (id) { return document.getElementById(id); };
  const MARKS = ['0.01', '0.02', '0.05', '0.1', '0.2', '0.5', '1']; // a syringe's smallest marks, mL; none is assumed
  let data = null; // {curve, signs, growth, orders} of the pup shown
  let doing = null; // {what: 'look' | 'feed' | 'plan' | 'dose', ...}
  let reading = 0, stamp = 0, sending = false;
  bismar.bedside = bedside;

  function pup() { return bismar.state.pup; }
  function name() { const a = bismar.animal(pup()); return bismar.text(a ? a.name : data && data.curve.name); }
  function change() { stamp++; bismar.draw(); }
  function note(text, bad) {
    if (doing) { doing.said = text; doing.bad = !!bad; }
    else bismar.tell(text, bad);
    change();
  }
  function begin(what) {
    doing = what;
    bismar.state.message = null;
    window.scrollTo(0, 0);
    change();
  }
  function close(text) {
    doing = null;
    window.scrollTo(0, 0);
    if (text) bismar.tell(text);
    change();
    bedside.refresh();
    bismar.load();
  }

  bedside.open = function (id) {
    bismar.state.pup = id;
    data = null;
    doing = null;
    bismar.state.message = null;
    bismar.show('pups');
    window.scrollTo(0, 0);
    change();
    bedside.refresh();
  };
  bedside.refresh = function () {
    const id = pup(), mine = ++reading;
    if (!id || bismar.state.view !== 'pups' || !bismar.fresh()) return;
    const q = '?animal=' + encodeURIComponent(id);
    Promise.all([bismar.get('/curve' + q), bismar.get('/signs' + q), bismar.call('growth', { who: id }), bismar.call('order.list')])
      .then(function (all) {
        if (mine !== reading || pup() !== id) return;
        data = { id: id, curve: all[0], signs: all[1], growth: (all[2].growth || [])[0] || null, orders: all[3].orders || [] };
        change();
      }).catch(function (error) { if (mine === reading) bismar.tell('This pup couldn\u2019t be read: ' + bismar.refusal(error), true); change(); });
  };

  // One call at a time: a second touch doesn't note a second feed or dose.
  function send(method, params, then) {
    if (sending || !bismar.fresh()) return;
    sending = true;
    change();
    bismar.call(method, params).then(then).catch(function (error) {
      const text = bismar.explain(error);
      if (error.unknown) close();
      if (error.unknown) bismar.tell(text, true);
      else note(text, true);
    }).then(function () { sending = false; change(); });
  }
  function off() { return sending || !bismar.fresh(); }
  function back(text) { return bismar.button({ class: 'plain', 'data-key': 'leave' }, function () { close(); }, text || 'Stop'); }
  function said(box) {
    if (doing && doing.said) box.appendChild(el('p', { class: doing.bad ? 'bad' : 'fine', role: 'status' }, doing.said));
  }
  function cautions(box, list) {
    if (!list || !list.length) return;
    const ul = el('ul', { class: 'cautions' });
    list.forEach(function (one) { ul.appendChild(el('li', {}, bismar.text(one.text), one.source ? el('span', { class: 'small' }, ' (' + bismar.text(one.source) + ')') : null)); });
    box.appendChild(el('h4', {}, 'Each time'));
    box.appendChild(ul);
  }

  // ---- what is seen ----
  function look() {
    send('look', { animal: pup() }, function (result) {
      const signs = result.signs || [];
      begin({ what: 'look', say: result.say, at: 0, noted: 0,
        signs: signs.filter(function (s) { return s.tells_now; }).concat(signs.filter(function (s) { return !s.tells_now; })) });
    });
  }
  function sign(question, value) {
    send('sign', { animal: pup(), sign: question.sign, value: value }, function (result) {
      doing.noted++;
      doing.at++;
      note('noted: ' + bismar.text(question.sign) + ' ' + bismar.text(result.value) +
        (result.counts === 'worst' ? '. By itself this is a reason to call your vet NOW.' : ''), result.counts === 'worst');
    });
  }
  function temperature(box, question) {
    const input = el('input', { id: 'temperature', type: 'text', inputmode: 'decimal', autocomplete: 'off', maxlength: '8' });
    const units = el('div', { class: 'pair' });
    ['C', 'F'].forEach(function (unit) {
      units.appendChild(bismar.button({ class: 'plain', disabled: off() }, function () {
        const typed = input.value.trim().replace(/^(\d{2,3}),(\d)$/, '$1.$2');
        if (typed) sign(question, typed + unit);
        else input.focus();
      }, 'note it in \u00b0' + unit));
    });
    box.appendChild(el('label', { for: 'temperature' }, 'Temperature'));
    box.appendChild(input);
    box.appendChild(units);
  }
  function drawLook(box) {
    const question = doing.signs[doing.at];
    said(box);
    if (!question) {
      box.appendChild(el('h3', {}, doing.noted + ' of ' + doing.signs.length + ' noted'));
      box.appendChild(el('p', {}, bismar.text(doing.say)));
      box.appendChild(el('p', { class: 'vetline' }, bismar.VET));
      box.appendChild(back('Done'));
      return;
    }
    box.appendChild(el('h3', {}, (doing.at + 1) + '/' + doing.signs.length + ' ' + bismar.text(question.question)));
    box.appendChild(el('p', {}, bismar.text(question.how)));
    if (!question.tells_now) box.appendChild(el('p', {}, 'It doesn\u2019t tell at this age: it can wait.'));
    if (question.newest) box.appendChild(el('p', { class: 'small' }, 'Last: ' + bismar.text(question.newest) + ', ' + bismar.when(question.newest_at)));
    if (!(question.answers || []).length) temperature(box, question);
    (question.answers || []).forEach(function (a) {
      box.appendChild(bismar.button({ class: 'choice', disabled: off() }, function () { sign(question, a.value); },
        el('span', { class: 'top' }, bismar.text(a.value)), el('span', { class: 'small' }, bismar.text(a.plain))));
    });
    box.appendChild(el('div', { class: 'pair' }, bismar.button({ class: 'plain', 'data-key': 'skip' }, function () { doing.at++; doing.said = ''; change(); }, 'Skip'), back()));
    box.appendChild(el('p', { class: 'small' }, bismar.text(question.tells) + ' (' + bismar.text(question.source) + ')'));
    box.appendChild(el('p', { class: 'small' }, bismar.text(doing.say)));
  }

  // ---- what it is fed ----
  function drawFeed(box) {
    const ul10 = doing.ul10, volume = bismar.ml(ul10 / 100);
    const figure = el('p', { class: 'figure long', role: 'status' }, ul10 ? volume : '\u2013', el('span', { class: 'unit' }, '\u00a0mL'));
    const taps = el('div', { class: 'three', role: 'group', 'aria-label': 'Millilitres' });
    [[500, '+ 5'], [100, '+ 1'], [50, '+ 0.5'], [10, '+ 0.1'], [-10, '\u2212 0.1'], [0, 'clear']].forEach(function (one) {
      // not bismar.button: these may be tapped quickly, and nothing is sent
      taps.appendChild(el('button', { type: 'button', class: 'plain', 'data-key': 'tap ' + one[0], on: { click: function () {
        doing.ul10 = one[0] ? Math.max(0, doing.ul10 + one[0]) : 0;
        doing.said = '';
        change();
      } } }, one[1]));
    });
    box.appendChild(el('h3', {}, 'What was ' + name() + ' fed?'));
    said(box);
    box.appendChild(el('p', { class: 'vetline' }, 'Never feed a cold pup: warm it slowly first.'));
    box.appendChild(figure);
    box.appendChild(taps);
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'give', disabled: off() || !ul10 }, function () {
      send('feed.give', { animal: pup(), volume: volume + ' mL' }, function (r) {
        close('Noted: ' + bismar.text(r.name) + ' got ' + bismar.ml(r.ml) + '\u00a0mL at ' + bismar.when(r.at) + '. ' + bismar.text(r.say));
      });
    }, ul10 ? 'Note ' + volume + '\u00a0mL' : 'Tap the millilitres'));
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'nursed', disabled: off() }, function () {
      send('feed.nursed', { animal: pup() }, function (r) { note(bismar.text(r.say)); bedside.refresh(); });
    }, 'It nursed: take its last two weighings'));
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'plan' }, function () { begin({ what: 'plan' }); }, 'Work out a meal\u2026'));
    box.appendChild(back());
  }
  function drawPlan(box) {
    const label = el('input', { id: 'label', type: 'text', inputmode: 'decimal', autocomplete: 'off', maxlength: '8' });
    if (doing.label) label.value = doing.label;
    label.addEventListener('input', function () { doing.label = label.value; });
    box.appendChild(el('h3', {}, 'A meal for ' + name()));
    said(box);
    box.appendChild(el('label', { for: 'label' }, 'Energy on the milk replacer\u2019s label as it is mixed, kcal in 1 mL'));
    box.appendChild(label);
    box.appendChild(marks('Smallest mark of the syringe or bottle', function (mark) {
      const typed = label.value.trim().replace(',', '.');
      if (!/^\d{1,2}(\.\d{1,3})?$/.test(typed)) { note('Type what the label says for 1 mL, such as 0.9. Of a label for 100 mL: a hundredth.', true); return; }
      send('feed.plan', { who: pup(), label_kcal_per_ml: Number(typed), steps: mark + ' mL' }, function (r) {
        doing.plan = (r.plans || [])[0];
        doing.cautions = r.cautions;
        doing.say = r.say;
        doing.said = '';
        change();
      });
    }));
    if (doing.plan) drawMeal(box, doing.plan);
    box.appendChild(back());
  }
  function drawMeal(box, plan) {
    if (bismar.isNumber(plan.meal_ml)) {
      box.appendChild(el('p', { class: 'figure long' }, bismar.ml(plan.meal_ml), el('span', { class: 'unit' }, '\u00a0mL')));
      box.appendChild(el('p', {}, 'a meal, ' + plan.meals + ' meals a day; ' + Math.round(plan.kcal_day) + ' kcal a day; from ' + bismar.mass(plan.mass_g) +
        ', ' + bismar.when(plan.weighed_at) + (plan.meals_needed > plan.meals ? '. More meals are needed: ' + plan.meals_needed : '') + '.'));
    } else box.appendChild(el('p', { class: 'bad' }, 'No plan (' + bismar.text(plan.outcome) + ').'));
    box.appendChild(el('p', {}, bismar.text(plan.hint)));
    if (plan.cool) box.appendChild(el('p', {}, 'It is cool: see that it is warm first.'));
    cautions(box, doing.cautions);
    box.appendChild(el('p', {}, bismar.text(doing.say)));
    box.appendChild(el('p', { class: 'vetline' }, bismar.VET_FIRST));
  }
  function marks(title, act) {
    const box = el('div', { class: 'three', role: 'group', 'aria-label': title });
    MARKS.forEach(function (mark) {
      box.appendChild(bismar.button({ class: 'plain', 'data-key': 'mark ' + mark, disabled: off() }, function () { act(mark); }, mark + '\u00a0mL'));
    });
    return el('div', {}, el('p', {}, title + ':'), box);
  }

  // ---- doses: the daemon computes what the vet ordered, and refuses; nothing is proposed here ----
  function orders() {
    const animal = bismar.animal(pup());
    return (data ? data.orders : []).filter(function (o) {
      return animal && o.litter === animal.litter && (o.name === null || o.name === animal.name);
    });
  }
  function orderWords(o) {
    return bismar.text(o.amount) + ' of ' + bismar.text(o.what) + ' ' + bismar.text(o.route) + ', at least ' + o.every_h + '\u00a0h apart, most in 24 hours ' +
      bismar.text(o.most_24h) + '; ordered by ' + bismar.text(o.vet) + ', until ' + bismar.when(o.until);
  }
  function drawDose(box) {
    const list = orders();
    box.appendChild(el('h3', {}, 'A dose for ' + name()));
    said(box);
    if (!list.length) {
      box.appendChild(el('p', {}, 'No order of a vet is on record for it. Call the vet. The order goes in at the computer: bismar order add.'));
      box.appendChild(el('p', { class: 'vetline' }, bismar.VET_FIRST));
    } else if (!doing.order) {
      box.appendChild(el('p', {}, 'By which order?'));
      list.forEach(function (o) {
        box.appendChild(bismar.button({ class: 'choice', 'data-key': 'order ' + o.order }, function () { doing.order = o; change(); }, el('span', {}, orderWords(o))));
      });
    } else if (!doing.plan) {
      box.appendChild(el('p', { class: 'order' }, orderWords(doing.order)));
      box.appendChild(marks('Smallest mark of the syringe', function (mark) {
        send('dose.plan', { animal: pup(), steps: mark + ' mL', order: doing.order.order }, function (r) {
          doing.plan = r;
          doing.mark = mark;
          doing.said = '';
          change();
        });
      }));
    } else drawDosePlan(box, doing.plan);
    box.appendChild(back());
  }
  function basis(plan) {
    return 'From ' + bismar.mass(plan.mass_g) + ', weighed ' + bismar.when(plan.weighed_at) + ': ' + bismar.ml(plan.ml_per_kg) + '\u00a0mL for each kg, rounded down to ' +
      doing.mark + '\u00a0mL. In the last 24 hours it got ' + bismar.ml(plan.given_24h_ml) + '\u00a0mL of at most ' + bismar.ml(plan.most_24h_ml) +
      '\u00a0mL.' + (plan.due ? ' The next one after this: not before ' + bismar.when(plan.due) + '.' : '');
  }
  function drawDosePlan(box, plan) {
    const may = bismar.isNumber(plan.give_ml) && (plan.outcome === 'planned' || plan.outcome === 'second-look');
    const second = plan.outcome === 'second-look';
    box.appendChild(el('p', { class: 'order' }, orderWords(plan.order || doing.order)));
    if (may) {
      box.appendChild(el('p', { class: 'figure long' }, bismar.ml(plan.give_ml), el('span', { class: 'unit' }, '\u00a0mL')));
      box.appendChild(el('p', {}, el('strong', {}, bismar.text((plan.order || doing.order).route))));
    } else box.appendChild(el('p', { class: 'bad' }, 'No dose (' + bismar.text(plan.outcome) + ').' +
      (plan.due ? ' Not before ' + bismar.when(plan.due) + '.' : '')));
    box.appendChild(el('p', {}, bismar.text(plan.hint)));
    if (plan.outcome !== 'planned' && plan.range) box.appendChild(el('p', { class: 'small' }, 'Held against: ' + bismar.text(plan.range)));
    if (may) box.appendChild(el('p', {}, basis(plan)));
    if (plan.sites > 1) box.appendChild(el('p', {}, 'Split it over ' + plan.sites + ' places: no more than 20 mL for each kg goes into one.'));
    if (plan.cool) box.appendChild(el('p', {}, 'It is cool: see that it is warm first.'));
    cautions(box, plan.cautions);
    box.appendChild(el('p', {}, bismar.text(plan.say)));
    box.appendChild(el('p', { class: 'vetline' }, bismar.VET_FIRST));
    if (may && second && !doing.readBack) box.appendChild(bismar.button({ class: 'big', 'data-key': 'readback' }, function () { doing.readBack = true; change(); },
      'I have read it back to the vet, who says so'));
    else if (may) box.appendChild(bismar.button({ class: 'big', 'data-key': 'given', disabled: off() }, function () { give(plan); },
      'It was given: note ' + bismar.ml(plan.give_ml) + '\u00a0mL'));
  }
  function give(plan) {
    send('dose.give', { animal: pup(), volume: bismar.ml(plan.give_ml) + ' mL', steps: doing.mark + ' mL', order: (plan.order || doing.order).order }, function (r) {
      close('Noted: ' + bismar.text(r.name) + ' got ' + bismar.ml(r.ml) + '\u00a0mL at ' + bismar.when(r.at) + ' (' + bismar.text(r.judged) + '). The next one not before ' +
        bismar.when(r.due) + '.');
    });
  }

  // ---- the pup ----
  function verdict(box, g) {
    if (!g || !bismar.isNumber(g.mass_g)) return;
    const words = { losing: 'is losing weight', flat: 'isn\u2019t gaining', gaining: 'is gaining', 'too soon': 'too soon to say' };
    const rate = bismar.isNumber(g.gain_g_per_day) ? ': ' + bismar.gain(g.gain_g_per_day) + ' \u00b1 ' + bismar.about(Math.round(g.u_gain_g_per_day)) + ' a day' : '';
    box.appendChild(el('p', {}, el('strong', {}, words[g.verdict] || bismar.text(g.verdict)), rate + '.',
      g.verdict === 'too soon' && g.tell_at ? ' A weighing will tell from ' + bismar.when(g.tell_at) + ' on.' : ''));
    if (g.verdict === 'losing' || g.verdict === 'flat') box.appendChild(el('p', { class: 'vetline' }, 'Don\u2019t wait for the next weighing. ' + bismar.VET));
    if (g.wild) box.appendChild(el('p', {}, 'The newest reading is far from what was expected, and isn\u2019t counted until another agrees. Weigh again.'));
  }
  function drawWho(box) {
    const s = bismar.state, a = bismar.animal(pup());
    box.appendChild(bismar.button({ class: 'plain', 'data-key': 'all' }, function () { s.pup = null; doing = null; s.message = null; change(); }, 'All pups'));
    box.appendChild(el('h2', {}, a ? bismar.name(a.name) : 'Pup', a ? bismar.collar(a.collar) : null));
    if (s.message) box.appendChild(el('p', { class: s.message.bad ? 'bad' : 'fine', role: 'status' }, s.message.text));
    if (!data) { box.appendChild(el('p', {}, bismar.fresh() ? 'Reading\u2026' : 'Not known now.')); return; }
    if (doing) return;
    verdict(box, data.growth);
    const own = s.concerns.filter(function (one) { return one.animal === pup(); });
    if (own.length) bismar.lists.concerns(box, own, '');
  }
  function kept(box) {
    const parts = [['Seen', data.signs.signs, function (p) { return bismar.text(p.sign) + ': ' + bismar.text(p.value); }],
      ['Fed', data.signs.feeds, function (p) { return (bismar.isNumber(p.ml) ? bismar.ml(p.ml) + '\u00a0mL ' : 'nursed ') + bismar.text(p.what); }],
      ['Doses', data.signs.doses, function (p) { return bismar.ml(p.ml) + '\u00a0mL'; }]];
    parts.forEach(function (part) {
      if (!(part[1] || []).length) return;
      const list = el('ul', { class: 'kept' });
      part[1].slice(0, 20).forEach(function (p) { list.appendChild(el('li', {}, bismar.when(p.at_ms) + '  ' + part[2](p))); });
      box.appendChild(el('h3', {}, part[0]));
      box.appendChild(list);
    });
  }
  function drawCare(box) {
    if (!data) return;
    if (doing) { ({ look: drawLook, feed: drawFeed, plan: drawPlan, dose: drawDose })[doing.what](box); return; }
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'look', disabled: off() }, look, 'Look at it, one sign at a time'));
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'feed', disabled: off() }, function () { begin({ what: 'feed', ul10: 0 }); }, 'Feeding'));
    box.appendChild(bismar.button({ class: 'big', 'data-key': 'dose', disabled: off() }, function () { begin({ what: 'dose' }); }, 'A dose by the vet\u2019s order'));
  }
  function drawList(box) {
    const s = bismar.state;
    box.appendChild(el('h2', {}, s.animals.length ? 'Pups' : s.loaded ? 'No pup is on record' : 'Pups aren\u2019t known now'));
    s.animals.forEach(function (a) {
      const worst = s.concerns.filter(function (one) { return one.animal === a.animal; }).sort(function (x, y) { return bismar.rank(x.level) - bismar.rank(y.level); })[0];
      box.appendChild(bismar.button({ class: 'choice', 'data-key': 'pup ' + a.animal }, function () { bedside.open(a.animal); },
        el('span', { class: 'top' }, bismar.name(a.name), bismar.collar(a.collar)),
        el('span', { class: 'small' }, (bismar.isNumber(a.newest_g) ? bismar.mass(a.newest_g) + ', ' + bismar.when(a.newest_ms) : 'not weighed yet') +
          (s.several ? ', ' + bismar.text(a.litter) : '')),
        worst ? el('span', { class: 'level ' + worst.level }, bismar.level(worst.level)) : null));
    });
  }
  bedside.draw = function () {
    const s = bismar.state, one = !!s.pup, fresh = bismar.fresh(), day = new Date().toDateString();
    $('list').hidden = one;
    $('pup').hidden = !one;
    if (!one) {
      bismar.fill($('list'), JSON.stringify([s.animals, s.concerns.map(function (c) { return [c.animal, c.level]; }), s.loaded, day]), drawList);
      return;
    }
    const mine = data && data.id === s.pup ? stamp : -1;
    bismar.fill($('who'), JSON.stringify([s.pup, mine, s.message, fresh, s.concerns, !!doing, day]), drawWho);
    $('curve').hidden = $('kept').hidden = !!doing; // what is being done has the screen to itself
    bismar.fill($('curve'), JSON.stringify([s.pup, data && data.curve, day]), function (box) { if (data) box.appendChild(bismar.curve(data.curve)); });
    bismar.fill($('care'), JSON.stringify([s.pup, data && data.id, doing && doing.what === 'dose' ? orders() : 0, sending, fresh, doing]), drawCare);
    bismar.fill($('kept'), JSON.stringify([s.pup, data && data.signs, day]), function (box) { if (data) kept(box); });
  };
})();
