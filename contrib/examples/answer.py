#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""Asks at a terminal what bismard asks, one question after the other. usage: answer.py [SOCKET]"""
import json
import socket
import sys

connection = socket.socket(socket.AF_UNIX)
connection.connect(sys.argv[1] if len(sys.argv) > 1 else "/run/bismar/prompt.sock")
for line in connection.makefile(encoding="utf-8"):  # the open questions come at once, later ones as they are asked
    message = json.loads(line)
    if message.get("method") == "ask":
        ask = message["params"]
        print(ask["say"], *(f"{c['name']} ({c['probability']:.0%})" for c in ask["candidates"]), sep="\n  ", flush=True)
        who = sys.stdin.readline().strip()
        if not who:
            break  # it stays open; anybody may answer it later
        request = {"jsonrpc": "2.0", "id": 1, "method": "answer", "params": {"ask": ask["ask"], "animal": who}}
        connection.sendall(json.dumps(request).encode() + b"\n")
    elif "error" in message:
        print(message["error"]["message"], message["error"]["data"]["hint"], sep="; ", flush=True)
    elif "result" in message:
        print("recorded:", message["result"]["name"], message["result"]["net_g"], "g", flush=True)
