#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""The page's two documents against html-validate, and what the server's policy forbids: inline scripts and styles, anything external."""
import glob
import os
import re
import subprocess
import sys

HERE = os.path.dirname(os.path.abspath(__file__))
ASSETS = os.path.normpath(os.path.join(HERE, '..', '..', 'contrib', 'page', 'assets'))
FORBIDDEN = [(r'<script(?![^>]* src=")', 'an inline script'), (r'<style|\sstyle="', 'an inline style'), (r'\son[a-z]+="', 'an inline handler'),
             (r'\b(innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval|new Function)\b', 'markup or code made from text'),
             (r'(src|href|url|fetch)\s*[=(]\s*[\'"]?\s*(https?:)?//', 'something external'), (r'@import', 'an import'),
             (r'\?\.[a-zA-Z(\[]|\?\?|\.finally\(|[{,(] *\.\.\.[a-zA-Z\[]|catch \{|replaceAll|fromEntries|\.flat\(|\basync\b|\bawait\b', 'newer than an old phone knows (ECMAScript 2017)')]


def npm():
    from browser import npm as folder
    return folder()


def main():
    found = []
    pages = [os.path.join(ASSETS, name) for name in ('index.html', 'pair.html')]
    done = subprocess.run([os.path.join(npm(), '.bin', 'html-validate'), *pages], capture_output=True, text=True)
    if done.returncode != 0:
        found.append(done.stdout + done.stderr)
    for path in sorted(glob.glob(os.path.join(ASSETS, '*'))):
        with open(path, encoding='utf-8') as f:
            text = f.read()
        if 'SPDX-License-Identifier: MIT' not in text:
            found.append(path + ': no licence line')
        for pattern, what in FORBIDDEN:
            for hit in re.finditer(pattern, text):
                found.append('%s:%d: %s' % (path, text.count('\n', 0, hit.start()) + 1, what))
    print('\n'.join(found) or 'fine')
    return 1 if found else 0


if __name__ == '__main__':
    sys.exit(main())
