"""The start as it is sent while the page is still being loaded: plain HTML, complete in itself.

It is the start screen before anything is connected, part for part, and the way to every other
screen works: what is asked for meanwhile is answered once it is there. When it is, the browser puts
the live start in its place.
"""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Final

from pitchwright.web.addresses import ADDRESSES
from pitchwright.web.texts import say
from pitchwright.web.theme import palette_css

__all__ = ["first_page"]

_LOOKS: Final = Path(__file__).parent / "looks"
# What is fetched is held back until the page is loaded, and then is in store already.
_TAKE_OVER: Final = """
let leaving = false;
const way = 'a[href^="/"]';
addEventListener('click', (event) => { leaving ||= Boolean(event.target.closest(way)); });
(async function wait() {
  try { await fetch('/looks/page.js'); } catch { setTimeout(wait, 500); return; }
  if (!leaving) location.reload();
})();
"""


def first_page() -> str:
    """The whole page as HTML."""
    looks = (_LOOKS / "page.css").read_text(encoding="utf-8")
    way = _way_about()
    return f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{say("name")}</title>
<style>{palette_css()}{looks}</style>
<div class="pw-page">
<a class="pw-skip" href="#main">{say("skip")}</a>
<header class="pw-head">
<a class="pw-name" href="/">{say("name")}</a>
<span class="pw-bench" role="status">{say("bench.opening")}</span>
<details class="pw-menu"><summary>{say("menu")}</summary>{way}</details>
</header>
<div class="pw-body">
<div class="pw-rail">{way}</div>
<main class="pw-main" id="main" tabindex="-1" data-part="first">
<div class="pw-column">
<h1>{say("start.waiting")}</h1>
<div class="pw-keys">
{_key("start.survey", "survey", "pw-first")}
{_key("start.trim", "trim")}
{_key("start.practice it", "practice")}
</div>
<h2>{say("start.safe title")}</h2>
<div class="pw-caution"><b>{say("caution")}</b>{_cautions()}</div>
</div>
</main>
</div>
</div>
<script>{_TAKE_OVER}</script>
</html>"""


def _way_about() -> str:
    links = "".join(
        f'<a href="{to}"{_here(name)}>{escape(say(f"screen.{name}"))}</a>'
        for name, to in ADDRESSES.items()
    )
    return f'<nav class="pw-nav" aria-label="{say("menu.screens")}">{links}</nav>'


def _here(name: str) -> str:
    return ' aria-current="page"' if name == "start" else ""


def _key(words: str, screen: str, classes: str = "") -> str:
    return f'<a class="pw-key {classes}" href="{ADDRESSES[screen]}">{escape(say(words))}</a>'


def _cautions() -> str:
    kinds = ("power", "attenuate", "dc", "hearing")
    return "".join(f"<p>{escape(say(f'start.safe {kind}'))}</p>" for kind in kinds)
