# SPDX-License-Identifier: MIT
"""A headless phone for the page's tests: Chromium through WebDriver, with touch, at a phone's size, and what it complained of."""
import json
import os
import shutil
import subprocess
import tempfile

from selenium import webdriver
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import WebDriverWait

HERE = os.path.dirname(os.path.abspath(__file__))
SMALL, LARGE = (360, 640), (412, 915)
GUARD_S = 0.5  # bismar.GUARD_MS: how long a button that has just come does nothing


def npm():
    """Where tests/npm/install has put axe-core and html-validate; it is called if they aren't there."""
    folder = os.environ.get('BISMAR_NPM') or os.path.join(tempfile.gettempdir(), 'bismar-npm-%d' % os.getuid())
    subprocess.run([os.path.join(HERE, '..', 'npm', 'install'), folder], check=True)
    return os.path.join(folder, 'node_modules')


class Phone:
    def __init__(self, size=SMALL, scheme='dark', reduced=True):
        options = Options()
        options.binary_location = shutil.which('chromium')
        self.profile = tempfile.mkdtemp(prefix='bismar-page-')
        for word in ('--headless=new', '--no-sandbox', '--disable-gpu', '--disable-dev-shm-usage', '--hide-scrollbars', '--touch-events=enabled',
                     '--no-first-run', '--disable-extensions', '--disable-background-networking', '--user-data-dir=' + self.profile):
            options.add_argument(word)
        options.set_capability('goog:loggingPrefs', {'browser': 'ALL'})
        self.driver = webdriver.Chrome(service=Service(shutil.which('chromedriver')), options=options)
        self.driver.set_script_timeout(30)
        self.resize(size)
        self.cdp('Emulation.setTouchEmulationEnabled', enabled=True, maxTouchPoints=5)
        self.looks(scheme, reduced)
        # every violation of the policy is kept, also one before the test looks
        self.cdp('Page.addScriptToEvaluateOnNewDocument', source='window.violations = []; document.addEventListener("securitypolicyviolation",'
                 ' function (e) { window.violations.push(e.violatedDirective + " " + e.blockedURI); });')

    def cdp(self, command, **params):
        return self.driver.execute_cdp_cmd(command, params)

    def resize(self, size, zoom=1):
        """A page zoomed to 200 % has half as many CSS pixels, each of twice the size."""
        self.size = size
        self.cdp('Emulation.setDeviceMetricsOverride', width=int(size[0] / zoom), height=int(size[1] / zoom), deviceScaleFactor=2 * zoom, mobile=True)

    def looks(self, scheme, reduced=True):
        self.scheme = scheme
        self.cdp('Emulation.setEmulatedMedia', features=[{'name': 'prefers-color-scheme', 'value': scheme},
                                                         {'name': 'prefers-reduced-motion', 'value': 'reduce' if reduced else 'no-preference'}])

    def open(self, url):
        self.driver.get(url)

    def js(self, script, *args):
        return self.driver.execute_script(script, *args)

    def wait(self, script, what=None, seconds=60):
        """Until `script`, an expression, is true."""
        try:
            return WebDriverWait(self.driver, seconds, poll_frequency=0.02).until(lambda d: d.execute_script('return (' + script + ')'))
        except Exception:
            raise AssertionError('not within %g s: %s\n%s' % (seconds, what or script, self.text())) from None

    def see(self, text, seconds=60):
        self.wait('document.body.innerText.indexOf(%s) >= 0' % json.dumps(text), 'to see ' + repr(text), seconds)

    def text(self):
        return self.js('return document.body.innerText')

    def all(self, css):
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def one(self, css):
        return self.driver.find_element(By.CSS_SELECTOR, css)

    def button(self, words, css='button'):
        """The visible button that has these words, or None."""
        return self.js('return Array.from(document.querySelectorAll(arguments[0])).find(b => b.offsetParent && b.innerText.replace(/\\u00a0/g, " ").indexOf(arguments[1]) >= 0) || null',
                       css, words.replace('\u00a0', ' '))

    def settle(self):
        """Until a button that is there now has been there long enough to be meant."""
        self.js('const t = performance.now() + arguments[0]; return new Promise(r => { (function f() { performance.now() >= t ? r() : setTimeout(f, 10); })(); });',
                int(GUARD_S * 1000) + 60)

    def tap(self, element):
        """A finger, down and up, in its middle, once the thing has settled."""
        self.settle()
        self.js('arguments[0].scrollIntoView({block: "center", behavior: "instant"})', element)
        box = self.js('const b = arguments[0].getBoundingClientRect(); return [b.left + b.width / 2, b.top + b.height / 2];', element)
        self.touch(*box)

    def tap_on(self, words, css='button'):
        """Waits for such a button to be there and enabled, and taps it."""
        for _ in range(5):
            self.wait('Array.from(document.querySelectorAll(%s)).some(b => b.offsetParent && !b.disabled && b.innerText.replace(/\\u00a0/g, " ").indexOf(%s) >= 0)'
                      % (json.dumps(css), json.dumps(words.replace('\u00a0', ' '))), 'the button ' + repr(words))
            try:
                return self.tap(self.button(words, css))
            except StaleElementReferenceException:
                continue  # the page has built it anew meanwhile, and nothing was touched
        raise AssertionError('the button %r is built anew all the time' % words)

    def touch(self, x, y):
        self.cdp('Input.dispatchTouchEvent', type='touchStart', touchPoints=[{'x': x, 'y': y}])
        self.cdp('Input.dispatchTouchEvent', type='touchEnd', touchPoints=[])

    def key(self, *keys):
        webdriver.ActionChains(self.driver).send_keys(*keys).perform()

    # ---- what every state has to stand ----
    def axe(self):
        """What axe-core finds against WCAG 2.2 A and AA and its best practices, as readable lines."""
        if not self.js('return !!window.axe'):
            with open(os.path.join(npm(), 'axe-core', 'axe.min.js')) as f:
                self.cdp('Runtime.evaluate', expression=f.read())  # as a debugger does: the page's own policy would refuse it
        found = self.driver.execute_async_script('const done = arguments[0]; axe.run(document, {resultTypes: ["violations"]}).then(r => done(r.violations.map('
                                                 'v => v.id + ": " + v.help + " " + v.nodes.map(n => n.html.slice(0, 120)).join(" | "))), e => done([String(e)]));')
        return found

    def overflow(self):
        return self.js('return Math.max(document.documentElement.scrollWidth, document.body.scrollWidth) - document.documentElement.clientWidth')

    def small_buttons(self, least=44):
        return self.js('return Array.from(document.querySelectorAll("button, input, a[href]")).filter(b => { const r = b.getBoundingClientRect();'
                       ' return r.width > 0 && (r.width < arguments[0] || r.height < arguments[0]); }).map(b => b.outerHTML.slice(0, 120))', least)

    def violations(self):
        return self.js('return window.violations')

    def console(self):
        """Errors and warnings since the last look; requests that were refused on purpose are told with their status."""
        return [e['message'] for e in self.driver.get_log('browser') if e['level'] in ('SEVERE', 'WARNING')]

    def picture(self, name):
        folder = os.environ.get('BISMAR_PICTURES')
        if folder:
            os.makedirs(folder, exist_ok=True)
            self.driver.save_screenshot(os.path.join(folder, '%s-%s-%d.png' % (name, self.scheme, self.size[0])))

    def close(self):
        self.driver.quit()
        shutil.rmtree(self.profile, ignore_errors=True)


__all__ = ['Phone', 'Keys', 'SMALL', 'LARGE', 'npm']
