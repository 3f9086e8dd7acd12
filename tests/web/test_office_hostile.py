"""Whatever people write comes back as text, in every field of every form."""

from __future__ import annotations

import json
import os
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tapedown.values.kinds import KINDS
from tests.web.conftest import Browser

SHARED = Path(os.environ.get("TAPEDOWN_SHARED", Path(__file__).parents[3] / "shared"))
STRINGS = SHARED / "standards" / "bad-input-blns" / "blns.json"
OURS = ['"><script>alert(1)</script>', "{{ 7 * 7 }}", "'\" onmouseover=alert(1) x='", "</textarea><b>", "Ω‮ 𝔘𝔫 🜂"]
FIELDS = ("name", "place", "use", "aquifer", "remarks", "other_names[1]")
FORBIDDEN = {"script", "iframe", "img", "object", "embed", "style", "b", "video", "meta2", "form2"}


def strings() -> list[str]:
    """All of the list where it is there, and ours."""
    return OURS + (json.loads(STRINGS.read_text(encoding="utf-8")) if STRINGS.exists() else [])


class Page(HTMLParser):
    """The text of a page and what in it would act."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.values: list[str] = []
        self.acting: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = dict(attrs)
        self.values += [value for value in names.values() if value]
        if tag in FORBIDDEN or any(name.startswith("on") for name in names):
            self.acting.append(f"{tag} {names}")
        if (names.get("href") or "").lower().startswith(("javascript:", "data:", "//", "http")):
            self.acting.append(f"{tag} {names}")

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def says(self, words: str) -> bool:
        """Whether the words stand in the text or in a field."""
        return any(words in said for said in (*self.values, "".join(self.words)))


def kept(words: str) -> str:
    """The words as a form and the record keep them: trimmed, lines ended in one way."""
    return words.replace("\r\n", "\n").strip()


def readable(words: str) -> bool:
    """Whether the record takes the words as text."""
    return KINDS["well"].read({"code": "X", "name": words}, "ft")[0] is not None and bool(words.strip())


@pytest.mark.skipif(not STRINGS.exists(), reason=f"the list of hostile strings is not at {STRINGS}")
def test_the_list_is_there() -> None:
    assert len(strings()) > 400


def test_hostile_words_in_the_fields_of_a_well_come_back_as_text(office: Browser) -> None:
    """One well for each, of that name, all on one start page; every tenth looked at on a page of its own."""
    token = office.token()
    told = list(filter(readable, strings()))
    for number, words in enumerate(told):
        fields = {"code": f"X-{number:03d}", **dict.fromkeys(FIELDS, words), "by": "R. Alder", "token": token}
        sent = office.ask("POST", "/wells/new", data=fields, headers={"origin": "http://127.0.0.1:8765"})
        assert sent.status_code == 303, words
    pages = [Page(office.get(f"/?page={number}").text) for number in (1, 2, 3)]
    assert not [acting for page in pages for acting in page.acting]
    for number, words in enumerate(told):
        assert any(page.says(kept(words)) for page in pages), words
        if number % 10 == 0:
            page = Page(office.get(f"/wells/X-{number:03d}").text)
            assert not page.acting, words
            assert page.says(kept(words)), words


@pytest.mark.parametrize(
    ("path", "names"),
    [
        ("/wells/new", ["code", "name", "place", "use", "aquifer", "remarks"]),
        ("/wells/MF-07/facts/measuring%20point", ["name", "height", "side", "description", "why", "since"]),
        ("/wells/MF-07/facts/construction", ["completed_depth", "casings[1].top", "casings[1].material", "source"]),
        ("/wells/MF-07/facts/access", ["permission", "keys", "hazards", "remarks", "since"]),
        ("/gear/new", ["serial", "type", "description", "length", "layers[1].material"]),
        ("/wells/MF-07/visit", ["when", "people[1]", "point_checked", "depth_reached", "cleaning", "remarks",
                                "readings[1].tape", "readings[1].readings[1]", "readings[1].remarks"]),
        ("/settings", ["coverage", "agree_rule", "digits_corrected", "reason"]),
    ],
)  # fmt: skip
def test_hostile_words_in_a_form_that_is_not_taken_come_back_as_text(
    office: Browser, path: str, names: list[str]
) -> None:
    """Forms that come back filled, with their problems; ours and every tenth of the list."""
    token = office.token()
    for words in OURS + strings()[len(OURS) :: 10]:
        given = dict.fromkeys(names, words) | {"by": "", "token": token, "do": "enter"}
        if path.endswith("visit"):
            given["readings[1].method"] = "weighted tape"
        sent = office.ask("POST", path, data=given, headers={"origin": "http://127.0.0.1:8765"})
        assert sent.status_code in {422, 303}, (words, sent.status_code)
        page = Page(sent.text)
        assert not page.acting, words
        assert sent.status_code == 303 or not words.strip() or page.says(words.replace("\r", "").strip()[:40]), words


def test_hostile_words_in_an_address_come_back_as_text(office: Browser) -> None:
    for words in OURS + strings()[len(OURS) :: 10]:
        for path in ("/", "/wells/MF-07", "/gear"):
            found = office.ask("GET", path, params={"q": words[:150], "as_of": words[:90], "condition": words[:90]})
            assert found.status_code in {200, 422}
            assert not Page(found.text).acting, words
