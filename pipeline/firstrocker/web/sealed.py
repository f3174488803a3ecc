"""A page that the workflow made, served so that a browser lets it do nothing but be read.

It is self-contained: styles and drawings stand in it. Its own policy names the hash of every style sheet in it, so that
nothing that got in as text can act as one; styles of single elements are moved into one more sheet first, for no policy
can name them. Scripts run only where the page has any, by hash too, and within a sandbox without the clinic's origin.
"""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256

_ATTRIBUTE = re.compile(r'(<[a-zA-Z][^<>]*?)\sstyle="([^"]*)"')
_STYLE = re.compile(r"<style[^>]*>(.*?)</style>", re.DOTALL | re.IGNORECASE)
_SCRIPT = re.compile(r"<script(?![^>]*\ssrc=)[^>]*>(.*?)</script>", re.DOTALL | re.IGNORECASE)


def sealed(page: str) -> tuple[str, str]:
    """The page without styles of single elements, and the policy to serve it with.

    >>> page, policy = sealed('<html><head></head><body><p style="color: red">a</p></body></html>')
    >>> page
    '<html><head><style>[data-s="0"]{color: red}</style></head><body><p data-s="0">a</p></body></html>'
    >>> policy.startswith("default-src 'none'; style-src 'sha256-")
    True
    """
    rules: dict[str, int] = {}

    def moved(match: re.Match[str]) -> str:
        number = rules.setdefault(match.group(2), len(rules))
        return f'{match.group(1)} data-s="{number}"'

    page = _ATTRIBUTE.sub(moved, page)
    if rules:
        sheet = "".join(f'[data-s="{number}"]{{{_unescaped(rule)}}}' for rule, number in rules.items())
        page = page.replace("</head>", f"<style>{sheet}</style></head>", 1)
    styles, scripts = (_hashes(found.findall(page)) for found in (_STYLE, _SCRIPT))
    policy = [
        "default-src 'none'",
        f"style-src {styles or chr(39) + 'none' + chr(39)}",
        "img-src data:",
        "font-src data:",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'self'",
        # Links between a person's pages need the sign-in, so the origin; never together with scripts.
        "sandbox allow-modals allow-downloads " + ("allow-scripts" if scripts else "allow-same-origin"),
    ]
    if scripts:
        policy.insert(1, f"script-src {scripts}")
    return page, "; ".join(policy)


def _hashes(texts: list[str]) -> str:
    # A browser hashes what it parsed, in which every line ends with a line feed.
    hashes = (b64encode(sha256(text.replace("\r\n", "\n").encode()).digest()).decode() for text in texts)
    return " ".join(dict.fromkeys(f"'sha256-{one}'" for one in hashes))


def _unescaped(rule: str) -> str:
    """An attribute's text as a style sheet has it; what would end the rule is dropped."""
    for escaped, plain in (("&quot;", '"'), ("&#34;", '"'), ("&#39;", "'"), ("&amp;", "&")):
        rule = rule.replace(escaped, plain)
    return re.sub(r"[{}<>]", "", rule)
