// SPDX-License-Identifier: MIT
// The code and a name for this phone; the server then sets the cookie.
'use strict';
(function () {
  const form = document.getElementById('form'), said = document.getElementById('said');
  const code = document.getElementById('code'), name = document.getElementById('name'), button = form.querySelector('button');

  function wrong(text, field) {
    said.textContent = text;
    if (field) field.focus();
  }

  function answer(response) {
    if (response.status === 204) {
      location.replace('/');
      return null;
    }
    return response.json().then(function (body) {
      const error = body.error || {};
      const wait = response.headers.get('Retry-After');
      wrong([error.message || 'It was refused.', error.hint,
        response.status === 429 && /^\d+$/.test(wait || '') ? 'Try again in ' + wait + ' seconds.' : ''].filter(Boolean).join(' '), code);
      if (error.code === 'bad-code') code.select();
    });
  }

  form.addEventListener('submit', function (event) {
    const digits = code.value.replace(/[\s-]/g, '');
    event.preventDefault();
    said.textContent = '';
    if (!/^\d{8}$/.test(digits)) return wrong('The code has eight digits.', code);
    if (!name.value.trim()) return wrong('Give this phone a name, such as box or kitchen.', name);
    button.disabled = true;
    fetch('/pair', { method: 'POST', credentials: 'same-origin',
      headers: { 'Content-Type': 'application/json', 'X-Bismar': '1' },
      body: JSON.stringify({ code: digits, name: name.value.trim() }) })
      .then(answer)
      .catch(function () { wrong('The page\u2019s server doesn\u2019t answer. Is the phone in the same network, and bismar-page running?'); })
      .then(function () { button.disabled = false; });
    return undefined;
  });
})();
