#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""A stand-in for bismar-page's server, for states that are hard to reach with the real one.

It speaks the page's HTTP interface: the assets with their headers, /events, /call, /animals, /curve, /signs, /pair.
A test drives it from the same process: Mock() listens on a free port; push() sends an event; `replies[method]` is a result, a
(status, error) or a function of the params; `calls` is what the page has sent; cut() ends all streams, mute() keeps them open
without a word. `python3 mock.py` serves a made-up litter to look at by hand.
"""
import http.server
import json
import os
import queue
import threading
import time
import urllib.parse

ASSETS = os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..', 'contrib', 'page', 'assets')
TYPES = {'html': 'text/html; charset=utf-8', 'css': 'text/css; charset=utf-8', 'js': 'text/javascript; charset=utf-8', 'svg': 'image/svg+xml'}
CSP = ("default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; base-uri 'none'; "
       "form-action 'none'; frame-ancestors 'none'")
DAY = 86400000
NAMES = [('Moss', 'green'), ('Fern', 'red'), ('Gorse', 'yellow'), ('Sedge', 'blue'), ('Clover', 'white'), ('Bramble', 'purple'),
         ('Teasel', 'orange'), ('Yarrow', None)]


def iso(ms):
    return time.strftime('%Y-%m-%dT%H:%M:%S', time.gmtime(ms / 1000)) + '.%03dZ' % (ms % 1000)


def now_ms():
    return int(time.time() * 1000)


def litter(at=None):
    at = at or now_ms()
    return [{'animal': 'a%d' % i, 'name': name, 'litter': 'hedge', 'litter_id': 'l1', 'collar': collar, 'sex': 'fm'[i % 2],
             'born_ms': at - 5 * DAY, 'birth_g': 290 + 7 * i, 'newest_g': 398 + 9 * i, 'newest_ms': at - 6 * 3600000, 'scale_step_g': 1}
            for i, (name, collar) in enumerate(NAMES)]


def ask(animals, net_g=412, ident='019abc65-3f10-7cc2-9c1e-5b2f0d3e7a1c', at=None, **more):
    candidates = [{'animal': a['animal'], 'name': a['name'], 'collar': a['collar'], 'expected_g': a['newest_g'] + 12.4, 'u_expected_g': 5.1,
                   'probability': p, 'why': 'expected'} for a, p in zip(animals, (0.61, 0.22, 0.11, 0.04, 0.005))]
    return dict({'ask': ident, 'at': iso(at or now_ms()), 'scale': 'kitchen', 'container': 'box', 'gross_g': net_g + 508, 'tare_g': 508,
                 'net_g': net_g, 'u_g': 0.41, 'state': 'settled', 'litter': 'hedge', 'whelping': None, 'candidates': candidates,
                 'say': '%g g. Is it %s?' % (net_g, animals[0]['name'] if animals else 'one')}, **more)


def concern(level, animal, text, advice='Weigh it again within 12 hours, at the same stage of feeding. When in doubt, call your vet.'):
    return {'concern': 'c-' + level + animal['animal'], 'animal': animal['animal'], 'name': animal['name'], 'litter': animal['litter'], 'level': level,
            'rule': 'no-gain-24h', 'text': text, 'source': 'a published rule', 'advice': advice, 'open': True, 'since_ms': now_ms() - 7200000}


class Mock:
    def __init__(self):
        self.animals = litter()
        self.paired, self.up, self.say, self.code = True, True, '', '12345678'
        self.asks, self.concerns, self.rounds, self.pending = [], [], [], 0
        self.scales = [{'scale': 'kitchen', 'address': 'C0:FF:EE:00:00:01', 'state': 'subscribed', 'battery': 80, 'battery_low': False, 'container': 'box'}]
        self.radio = {'trouble': 'fine', 'text': 'fine'}
        self.replies, self.calls, self.curves, self.signs = {}, [], {}, {}
        self.units = 'g'
        self.streams, self.silent, self.beat, self.dead = [], False, 5.0, False
        self.lock = threading.Lock()
        mock = self

        class Handler(http.server.BaseHTTPRequestHandler):
            protocol_version = 'HTTP/1.1'

            def log_message(self, *args):
                pass

            def do_GET(self):
                mock.get(self)

            def do_POST(self):
                mock.post(self)

        self.server = http.server.ThreadingHTTPServer(('127.0.0.1', 0), Handler)
        self.server.daemon_threads = True
        self.url = 'http://127.0.0.1:%d/' % self.server.server_address[1]
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    # ---- for tests ----
    def push(self, topic, params):
        with self.lock:
            for one in self.streams:
                one.put((topic, params))

    def open_ask(self, one):
        self.asks.append(one)
        self.push('ask', one)

    def link(self, up, say=''):
        self.up, self.say = up, say
        self.push('link', {'up': up} if up else {'up': False, 'say': say})
        if up:
            for one in self.asks:
                self.push('ask', one)

    def cut(self):
        """Ends all streams. With `dead` set before, every later request is dropped without a reply."""
        with self.lock:
            for one in self.streams:
                one.put(None)

    def called(self, method):
        return [params for name, params in self.calls if name == method]

    def close(self):
        self.dead = True
        self.cut()
        self.server.shutdown()
        self.server.server_close()

    # ---- HTTP ----
    def send(self, h, status, body, kind='application/json', more=()):
        data = body if isinstance(body, bytes) else json.dumps(body).encode() if body is not None else b''
        h.send_response(status)
        for name, value in (('Content-Security-Policy', CSP), ('X-Content-Type-Options', 'nosniff'), ('Referrer-Policy', 'no-referrer'),
                            ('Cache-Control', 'no-store'), ('Cross-Origin-Resource-Policy', 'same-origin'),
                            ('Cross-Origin-Opener-Policy', 'same-origin'), *more):
            h.send_header(name, value)
        if status != 204:
            h.send_header('Content-Type', kind)
            h.send_header('Content-Length', str(len(data)))
        h.end_headers()
        h.wfile.write(data)

    def refuse(self, h, status, code, message, hint=''):
        self.send(h, status, {'error': {'code': code, 'message': message, 'hint': hint}})

    def drop(self, h):
        h.close_connection = True

    def get(self, h):
        url = urllib.parse.urlsplit(h.path)
        name = url.path.lstrip('/')
        who = urllib.parse.parse_qs(url.query).get('animal', [''])[0]
        if self.dead:
            return self.drop(h)
        if name == 'pair':
            return self.asset(h, 'pair.html')
        if not self.paired and name not in ('pair.js', 'page.css', 'icon.svg'):
            return self.send(h, 303, None, more=(('Location', '/pair'),)) if name == '' else self.refuse(h, 401, 'not-paired', 'Not paired.')
        if name == 'events':
            return self.events(h)
        if name == 'animals':
            return self.send(h, 200, {'animals': self.animals, 'scales': [{'scale': 'kitchen', 'container': 'box'}]})
        if name == 'curve':
            return self.send(h, 200, self.curves.get(who) or self.curve(who))
        if name == 'signs':
            return self.send(h, 200, self.signs.get(who) or {'signs': [], 'feeds': [], 'doses': []})
        return self.asset(h, name or 'index.html')

    def asset(self, h, name):
        path = os.path.join(ASSETS, name)
        if '/' in name or not os.path.isfile(path):
            return self.refuse(h, 404, 'not-found', 'No such page.')
        with open(path, 'rb') as f:
            return self.send(h, 200, f.read(), TYPES[name.rsplit('.', 1)[1]])

    def curve(self, who):
        a = next((a for a in self.animals if a['animal'] == who), None)
        if a is None:
            return {'animal': who, 'name': '?', 'points': [], 'band': None, 'littermates': []}
        points = [{'at_ms': a['born_ms'] + i * DAY // 2, 'net_g': a['birth_g'] * 1.035 ** i - (6 if i == 1 else 0), 'u_g': 0.5} for i in range(10)]
        return {'animal': who, 'name': a['name'], 'litter': a['litter'], 'born_ms': a['born_ms'], 'birth_g': a['birth_g'], 'points': points,
                'band': [{'at_ms': a['born_ms'] + d * DAY, 'low_g': a['birth_g'] * (0.96 + 0.06 * d), 'high_g': a['birth_g'] * (1.02 + 0.1 * d)} for d in range(8)],
                'band_source': 'a published study of growth',
                'littermates': [{'name': b['name'], 'collar': b['collar'], 'points': [{'at_ms': p['at_ms'], 'net_g': p['net_g'] * b['birth_g'] / a['birth_g']} for p in points]}
                                for b in self.animals if b is not a]}

    def events(self, h):
        mine = queue.Queue()
        h.send_response(200)
        h.send_header('Content-Type', 'text/event-stream')
        h.send_header('Content-Security-Policy', CSP)
        h.send_header('Cache-Control', 'no-store')
        h.send_header('Connection', 'close')
        h.end_headers()
        h.close_connection = True
        with self.lock:
            mine.put(('link', dict({'up': True}, **({'units': 'oz'} if self.units == 'oz' else {})) if self.up else {'up': False, 'say': self.say}))
            for one in self.asks if self.up else []:
                mine.put(('ask', one))
            self.streams.append(mine)
        try:
            while True:
                try:
                    event = mine.get(timeout=self.beat)
                except queue.Empty:
                    event = ()
                if event is None:
                    return
                if self.silent:
                    continue
                text = 'event: %s\ndata: %s\n\n' % (event[0], json.dumps(event[1])) if event else ':\n\n'
                h.wfile.write(text.encode())
                h.wfile.flush()
        except OSError:
            pass
        finally:
            with self.lock:
                self.streams.remove(mine)

    def post(self, h):
        body = json.loads(h.rfile.read(int(h.headers['Content-Length'])) or b'{}')
        if self.dead:
            return self.drop(h)
        if h.headers['X-Bismar'] != '1' or h.headers['Content-Type'] != 'application/json':
            return self.refuse(h, 403, 'cross-site', 'Refused.')
        if h.path == '/pair':
            if body.get('code') != self.code:
                return self.refuse(h, 403, 'bad-code', 'That code isn\u2019t the one.', 'Run bismar page pair for a new one.')
            self.paired = True
            return self.send(h, 204, None, more=(('Set-Cookie', 'bismar=x; HttpOnly; SameSite=Strict; Path=/'),))
        if not self.paired:
            return self.refuse(h, 401, 'not-paired', 'Not paired.')
        method, params = body['method'], body.get('params', {})
        self.calls.append((method, params))
        reply = self.replies.get(method)
        if callable(reply):
            reply = reply(params)
        if reply is None:
            reply = getattr(self, 'do_' + method.replace('.', '_'), lambda p: (409, {'code': 'not-found', 'message': 'Not here.', 'hint': ''}))(params)
        if isinstance(reply, tuple):
            return self.send(h, reply[0], {'error': reply[1]})
        return self.send(h, 200, {'result': reply})

    # ---- what the daemon would do ----
    def do_status(self, params):
        return {'version': '1', 'protocol': 1, 'radio': self.radio, 'scales': self.scales, 'asks': len(self.asks), 'clients': 1, 'pending': self.pending, 'database': 'x'}

    def do_asks(self, params):
        return {'asks': self.asks}

    def do_round(self, params):
        return {'rounds': self.rounds}

    def do_concerns(self, params):
        return {'as_of': iso(now_ms()), 'concerns': self.concerns, 'say': 'None of it is a diagnosis.'}

    def do_growth(self, params):
        a = next((a for a in self.animals if a['animal'] == params.get('who')), None)
        return {'as_of': iso(now_ms()), 'growth': [] if a is None else [
            {'animal': a['animal'], 'name': a['name'], 'litter': a['litter'], 'verdict': 'gaining', 'readings': 10, 'newest': iso(a['newest_ms'] or 0),
             'newest_g': a['newest_g'], 'mass_g': a['newest_g'], 'u_mass_g': 2, 'gain_g_per_day': 21.3, 'u_gain_g_per_day': 4.2, 'tell_at': None, 'wild': False}]}

    def do_order_list(self, params):
        return {'orders': []}

    def do_answer(self, params):
        one = next((x for x in self.asks if x['ask'] == params['ask']), None)
        if one is None:
            return 409, {'code': 'already-answered', 'message': 'keeper has said Fern', 'hint': 'Correct it if that is wrong.'}
        a = next(a for a in self.animals if a['animal'] == params['animal'])
        self.asks.remove(one)
        told = {'reading': one['ask'], 'ask': one['ask'], 'animal': a['animal'], 'name': a['name'], 'at': one['at'], 'net_g': one['net_g'], 'u_g': one['u_g'], 'by': 'phone'}
        self.answered = one
        self.push('recorded', told)
        return told

    def do_aside(self, params):
        one = next(x for x in self.asks if x['ask'] == params['ask'])
        self.asks.remove(one)
        self.answered = one
        self.push('withdraw', {'ask': one['ask'], 'why': 'set aside'})
        return {'ask': one['ask']}

    def do_reopen(self, params):
        self.open_ask(self.answered)
        return {'ask': params['ask']}


if __name__ == '__main__':
    m = Mock()
    m.concerns = [concern('act', m.animals[4], 'Clover has not gained for 26 hours.')]
    m.open_ask(ask(m.animals))
    print(m.url, flush=True)
    while True:
        time.sleep(3600)
