"""The first screen as a mail, in words and as HTML that fetches nothing."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, date, datetime
from html.parser import HTMLParser

from draincurve.reports.content.change_lines import change_list
from draincurve.reports.content.report_changes import DueChange, ReportChanges, ShrunkTable, UnitName
from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.content.unit_names import unit_names
from draincurve.reports.mail_and_calendar.report_mail import (
    LONGEST_SUBJECT,
    failure_mail,
    report_mail,
    with_files,
)
from draincurve.reports.mail_and_calendar.text_sections import WIDTH, one_line
from draincurve.reports.page.page_writer import page_html
from draincurve.reports.print_edition.report_pdf import edition_values

SAFE_TAGS = {
    "html", "head", "meta", "title", "body", "div", "h1", "h2", "p", "ul", "li", "strong", "span", "bdi", "br",
}  # fmt: skip


class Tags(HTMLParser):
    def __init__(self):
        super().__init__()
        self.opened, self.attributes, self.open = set(), set(), []

    def handle_starttag(self, tag, attrs):
        self.opened.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag not in ("meta", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def flat(text: str) -> str:
    return " ".join(text.split())


def test_subject_is_the_headline_in_one_line(race_content):
    mail = report_mail(race_content)
    assert (
        race_content.first.headline == "Inspect 2 units now. 1 more is due now. No date is known for 3 other units."
    )
    assert mail.subject == (
        "Next service, 13 May 2026: inspect 2 units now; 1 more is due now; no date is known for 3 other units"
    )


def test_both_bodies_hold_all_of_the_first_screen(race_content):
    first = race_content.first
    mail = with_files(
        report_mail(race_content), attached=("report.html",), left_out=("report.pdf is not attached: too large.",)
    )
    text, html = flat(mail.text), mail.html
    said = [first.headline, *(line.name for line in first.inspect), *(line.signs for line in first.inspect)]
    said += [word for line in first.due for word in (line.row.name, line.when, line.detail)]
    said += [word for line in first.faster for word in (line.row.name, line.row.ratio_text, line.evidence)]
    said += [line.text for line in first.trust]
    said += [race_content.work.next_ride]
    assert race_content.work.next_ride
    said += ["Attached: report.html.", "report.pdf is not attached: too large.", "it never clears a unit to ride"]
    assert [words for words in said if flat(words) not in text] == []
    assert [words for words in said if words.replace("'", "&#39;") not in html] == []
    assert all(len(line) <= WIDTH for line in mail.text.splitlines())


def test_a_booking_that_cannot_be_kept_is_in_mail_page_and_print(race_content):
    unkept = "Booked but not in service: F10 (bike 5, right), Sat 27 Jun."
    content = replace(race_content, first=replace(race_content.first, unkept=unkept))
    mail = report_mail(content)
    assert f"- Caution: {unkept}" in flat(mail.text)
    assert unkept in mail.html
    assert unkept in page_html(content).split('class="inspect"')[0], "above what is to be inspected"
    assert edition_values(content)["first"]["unkept"] == unkept


def test_inspection_comes_before_what_is_due(race_content):
    text = report_mail(race_content).text
    assert text.index("INSPECT NOW") < text.index("DUE NEXT") < text.index("BEFORE YOU ACT")


def test_html_is_plain_and_fetches_nothing(hostile_content):
    html = report_mail(hostile_content).html
    tags = Tags()
    tags.feed(html)
    assert tags.open == []
    assert tags.opened <= SAFE_TAGS
    assert tags.attributes == {"lang", "charset", "name", "content", "style"}
    assert not re.search(r"url\(|@import|https?:|src=[^x]|<script|<img", html)


def test_names_are_shown_and_do_nothing(hostile_content):
    mail = report_mail(hostile_content)
    assert "</title></style><b>" in mail.text
    assert "&lt;/title&gt;&lt;/style&gt;&lt;b&gt;" in mail.html
    assert "\u2068ش-٠٧ أمامي\u2069" in mail.text, "kept from turning the line around it"


def test_changes_are_named_and_missing_rows_are_a_caution(race_content):
    def with_changes(changes: ReportChanges | None) -> ReportContent:
        result = race_content.result
        change_lines = change_list(changes, unit_names(result), in_service=frozenset(), as_of=result.as_of)
        return replace(race_content, first=replace(race_content.first, changes=change_lines))

    since = date(2026, 5, 12)
    changes = ReportChanges(
        since=since,
        as_of=race_content.as_of,
        shrunk=(ShrunkTable("drains", "race_team.csv", 190, 180),),
        newly_due=(DueChange(UnitName("F05", None), date(2026, 5, 15), date(2026, 5, 13), -1.5),),
    )
    text = flat(report_mail(with_changes(changes)).text)
    assert "SINCE THE REPORT OF TUE 12 MAY" in text
    assert "Caution: Drains (race_team.csv): 10 rows fewer than before" in text
    assert "Due, new: F05" in text
    assert "Nothing changed." in report_mail(with_changes(ReportChanges(since, race_content.as_of))).text
    assert "SINCE THE REPORT" not in report_mail(with_changes(None)).text


def test_the_mail_of_a_failed_night_has_its_fault_and_the_age_of_the_last_report():
    mail = failure_mail(date(2026, 5, 13), "disk full", last_good_at=datetime(2026, 5, 10, 3, 31, tzinfo=UTC))
    assert mail.subject == "Next service, 13 May 2026: there is no new report"
    assert "disk full" in mail.text
    assert "The last good report is from Sun 10 May 2026, 03:31 (3 days ago)." in flat(mail.text)
    assert "There is no earlier report" in failure_mail(date(2026, 5, 13), "disk full", last_good_at=None).text


def test_one_line_shows_what_acts_on_its_surroundings():
    assert one_line("F07\r\nBcc: x\t\x1b[31m\u202eabc\u2029") == "F07 Bcc: x \\u001b[31m\\u202eabc"


def test_a_long_subject_is_cut(race_content):
    long = replace(race_content, first=replace(race_content.first, headline="Due. " * 100))
    assert len(report_mail(long).subject) == LONGEST_SUBJECT
