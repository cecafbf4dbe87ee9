"""Every word that the report of an audit adds to those of protocols, rules and findings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from protocol_lang.wording.plain import begin, count, listed, number

MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day(on: date) -> str:
    """A date that is read the same everywhere: the month as a word."""
    return f"{on.day} {MONTHS[on.month - 1]} {on.year}"


# --- First page ----------------------------------------------------------------------------------

TITLE = "Audit of protocols"


def judged_on(on: date) -> str:
    """The line below the title."""
    return f"Judged as of {day(on)}"


def upshot(files: int, correct: int, undecided: int, waived: int, rules: int) -> str:
    """The whole audit in one sentence: how many files, and what is wrong with how many of them.

    ``undecided``: files with something that was not judged; ``rules``: how many were applied.
    """
    if not files:
        return "No protocol was audited, so nothing is proved."
    parts = (
        _of_one(correct, undecided, waived) if files == 1 else _of_many(correct, undecided, waived)
    )
    lead = "The one file audited" if files == 1 else f"Of {count(files, 'file')} audited,"
    without = "" if rules else "; no file of rules was applied"
    if not correct and len(parts) > 1:
        return f"{lead} {parts[0]}, but {listed(parts[1:])}{without}."
    return f"{lead} {listed(parts)}{without}."


def _of_one(correct: int, undecided: int, waived: int) -> list[str]:
    parts = ["has to be corrected" if correct else "has nothing to be corrected"]
    parts += ["could not be judged to the end"] if undecided else []
    return [*parts, "holds only under a waiver"] if waived else parts


def _of_many(correct: int, undecided: int, waived: int) -> list[str]:
    have, hold = ("has" if correct == 1 else "have"), ("holds" if waived == 1 else "hold")
    parts = [f"{number(correct)} {have} to be corrected" if correct else "none has to be corrected"]
    parts += [f"{number(undecided)} could not be judged to the end"] if undecided else []
    return [*parts, f"{number(waived)} {hold} only under a waiver"] if waived else parts


def three_numbers(files: int, correct: int, waived: int) -> tuple[str, str, str]:
    """What stands under the three numbers of the first page."""
    return (
        f"{_files(files)} audited",
        f"{_files(correct)} to be corrected",
        f"{_files(waived)} under a waiver",
    )


def _files(n: int) -> str:
    return "file" if n == 1 else "files"


def no_approval(undecided: int) -> str:
    """Said loudly where something was not judged."""
    return (
        f"In {count(undecided, 'file')} part was not judged: for "
        f"{'that file' if undecided == 1 else 'those files'} this report is no approval."
    )


def how_counted(several: bool, others: int) -> str:
    """Why the numbers of the first page need not add up. ``several``: files fall under more than
    one of them; ``others``: files that were found and are none to be audited."""
    told = ["A file can fall under several of these."] if several else []
    if others == 1:
        told.append(
            "One more file is no protocol, but a room, words, rules or the like; it is listed by "
            "name."
        )
    elif others:
        told.append(
            f"{begin(count(others, 'more file'))} are no protocols, but rooms, words, rules or the "
            "like; they are listed by name."
        )
    return " ".join(told)


PROVES = "This report proves the protocols as they are written, not what people do."
LOCAL_FIRST = "Local codes, the labels of products and licensed practice come first."

TO_DO = "What has to be done"
TO_DO_HEAD = ("What", "By", "Until")
NOTHING_TO_DO = "Nothing is open."
NO_DAY = "to be agreed: .........."
NO_OWNER = "the owner, whom the file does not name"


def correct_one(n: int, sentence: str, files: int) -> str:
    """One finding, told on the first page."""
    where = f" (in {count(files, 'file')})" if files > 1 else ""
    return f"Correct finding {n}: {sentence.rstrip('.')}{where}."


def correct_several(numbers: Sequence[int], files: int) -> str:
    """Findings that one role has to see to."""
    return f"Correct findings {numbered(numbers)}, in {count(files, 'file')}."


def numbered(numbers: Sequence[int], most: int = 8) -> str:
    """ "1, 2 and 5", runs as "3 to 7", cut after ``most`` of them."""
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][-1] + 1:
            runs[-1].append(n)
        else:
            runs.append([n])
    told = []
    for run in runs:
        told += [f"{run[0]} to {run[-1]}"] if len(run) > 2 else [str(n) for n in run]
    left = len(told) - most
    return listed([*told[:most], f"{left} more"] if left > 0 else told)


def in_files(files: Sequence[str], most: int = 3) -> str:
    """Names of files, cut after ``most`` of them."""
    left = len(files) - most
    return listed([*files[:most], f"{left} more"] if left > 1 else files)


def mend_text(files: Sequence[str]) -> str:
    """Files whose text could not be read."""
    return f"Put the text right so that it can be judged: {in_files(files)}."


def see_to_unjudged(files: Sequence[str]) -> str:
    """Files that were not judged to the end."""
    return f"See to what could not be judged: {in_files(files)}."


def review(files: Sequence[str]) -> str:
    """Files whose day of review has passed."""
    return f"Review what is overdue: {in_files(files)}."


def correct_before(waivers: Sequence[str]) -> str:
    """What is tolerated for a time."""
    return f"Correct what is tolerated for a time only, under {in_files(waivers)}."


def see_to_waivers(waivers: Sequence[str]) -> str:
    """Waivers that have ended or do not count."""
    return f"Withdraw or renew what does not count: {in_files(waivers)}."


def more_to_do(n: int) -> str:
    """Where the first page is full."""
    return f"{begin(number(n))} more: the list after this page has them all."


ALL_TO_DO = "All that has to be done"


SIGNED = "Signatures"
SIGNED_HEAD = ("For", "Name", "Role", "Date", "Signature")
SIGNED_ROWS = ("Auditor", "Owner of the protocols")
SIGNED_MEANS = (
    "Whoever signs has read the findings, the waivers and what was not judged, and what the proof "
    "rests on."
)

CONTENTS = "Contents"

# --- Findings ------------------------------------------------------------------------------------

FINDINGS = "Findings"
NO_FINDINGS = "No finding."
TO_CORRECT = "to correct"
TO_CONSIDER = "to consider"
WAIVED = "waived"

FINDING_GROUPS: Mapping[str, str] = {
    TO_CORRECT: "To correct",
    TO_CONSIDER: "To consider",
    WAIVED: "Waived for a time",
}

ROW_RULE = "rule"
ROW_KIND = "kind"
ROW_SOURCES = "sources"
ROW_IDENTITY = "identity"
ROW_WHERE = "where"
ROW_CHOICES = "choices"
ROW_STORY = "story"
ROW_BECAUSE = "because"
ROW_CHANGE = "change"
ROW_WAIVED = "waived"
ROW_BY = "by"

STRENGTHS: Mapping[str, str] = {
    "must": "must: asked for by a standard or a law",
    "should": "should: advised",
    "local": "local: asked for by the house",
}


def rule_of(rule: str, strength: str | None, pack: str) -> str:
    """Which rule failed, how much it binds and whose it is."""
    bound = STRENGTHS.get(strength or "", strength)
    return f"{rule} ({bound}); of {pack}" if bound else f"{rule}; of {pack}"


def pack(title: str, edition: int | None) -> str:
    """A file of rules with its edition."""
    return f"{title}, edition {edition}" if edition is not None else f"{title}, no edition"


NO_SOURCES = "no source is named"
OWN_QUESTION = "none: the check itself asks it"


def identity(code: str, since: str) -> str:
    """What a finding is called from one report to the next."""
    return f"{code}, {since}"


def since_in(since: str, files: int) -> str:
    """What it is beside the earlier report, where files differ."""
    return f"{since} in {count(files, 'file')}"


def told_as_in(file: str) -> str:
    """Said where one finding is at many files: of which the story is told."""
    return f"As it goes in {file}:"


def at_line(file: str, line: int | None, more: str = "") -> str:
    """A place in a file."""
    return f"{file}, line {line}{more}" if line is not None else f"{file}{more}"


def visit(n: int) -> str:
    """Over the steps of one visit."""
    return f"Visit {n}"


def step(line: int | None, person: str | None, text: str) -> str:
    """One step of a story: its line, who does it, what is done."""
    where = f"line {line}: " if line is not None else ""
    by = "" if not person or text.startswith(person) else f"{person}: "
    return f"{where}{by}{text}"


def moves(source: str, goals: Sequence[str]) -> str:
    """What the soil goes from, and to, in a step."""
    return f"from {source} to {listed(goals)}"


ANY_CHOICE = "whatever is chosen"


def change_lead(n: int) -> str:
    """Over the changes that were tried."""
    return "This puts it right:" if n == 1 else f"Any one of these {number(n)} puts it right:"


NO_CHANGE = "No change is offered: whoever owns the protocol has to find one."
CHANGES_TRIED = "Changes that put findings right were tried."
CHANGES_NOT_TRIED = "Changes that put findings right were not tried."


def act(by: str, until: str) -> str:
    """Who has to see to a finding, and until when."""
    return f"{by}; {until}"


def until(on: date) -> str:
    """A last day."""
    return f"until {day(on)}"


CLOSED = "Closed since the earlier report"
CLOSED_HEAD = ("Identity", "File")
NOTHING_CLOSED = "No finding of an earlier report was closed."

# --- Waivers -------------------------------------------------------------------------------------

WAIVERS = "Waivers"
NO_WAIVERS = "No waiver was given."
WAIVER_STATES: Mapping[str, str] = {
    "in use": "In use",
    "ended": "Ended: no longer counts",
    "not begun": "Not begun: does not count yet",
    "matches nothing": "Matches nothing that was found",
    "not allowed": "Not allowed: does not count",
    "could not be judged": "Could not be judged: not known what it covers",
}
ROW_TOLERATES = "tolerates"
ROW_REASON = "reason"
ROW_TIME = "time"
ROW_APPROVED = "approved"
ROW_COMPENSATED = "made up"
ROW_WHY = "why"
ROW_WRITTEN = "written"


def tolerates_finding(code: str) -> str:
    """A waiver of one finding."""
    return f"finding {code}"


def tolerates_rule(
    rule: str, pack: str | None, thing: str | None, choice: tuple[str, str] | None
) -> str:
    """A waiver of a rule, on a thing and a choice."""
    told = f"rule {rule}"
    if pack:
        told += f" of {pack}"
    if thing:
        told += f", for {thing}"
    if choice:
        told += f", with {choice[0]}: {choice[1]}"
    return told


def time_of(starts: date, ends: date, renewed: int = 0, renewed_by: str | None = None) -> str:
    """From when until when, and what is said of its renewal."""
    again = "" if not renewed else f", renewed {count(renewed, 'time')} before, as it says"
    by = f", renewed by: {renewed_by}" if renewed_by else ""
    return f"from {day(starts)} until {day(ends)}{again}{by}"


def follows(waiver: str, starts: date, ends: date) -> str:
    """An earlier waiver of the same, which this one follows."""
    return f"follows {waiver}, {time_of(starts, ends)}"


def made_up_by(label: str) -> str:
    """The step that makes up for it."""
    return f"by the step {label}"


NOT_COMPENSATED = "by no step"


def in_brief(waiver: str, about: str, role: str, ends: date, files: Sequence[str]) -> str:
    """A waiver in use on a short page: what it tolerates, who approved of it, until when, where."""
    return (
        f"in use until {day(ends)}: {waiver}, approved by {role}, for {about}; in {in_files(files)}"
    )


def not_in_use(waiver: str, about: str, why: str, file: str | None) -> str:
    """A waiver that does not count, told wherever there is little room, with the reason."""
    where = f", {file}" if file else ""
    return f"{waiver}{where}, for {about}: {why}"


def approved_by(role: str) -> str:
    """The role that approved it."""
    return f"by: {role}"


def covered_in(files: Sequence[str]) -> str:
    """Where a waiver has something to cover."""
    return in_files(files, 12) if files else "in no file"


def used_for(numbers: Sequence[int]) -> str:
    """The findings that a waiver in use covers."""
    return f"finding{'' if len(set(numbers)) == 1 else 's'} {numbered(numbers, 20)}"


# --- Rules ---------------------------------------------------------------------------------------

RULES = "Rules"
RULES_CAPTION = "What became of each rule, counted in files."
RULES_HEAD = (
    "Rule, whose, sources", "Binds", "Met", "Failed", "Waived", "Not applicable", "Not decided",
)  # fmt: skip
RULES_TOTAL = "All rules"
IN_FILES = "files"
NO_RULES = "No file of rules was applied."
NOT_APPLICABLE_IS_NO_APPROVAL = (
    "Not applicable means that nothing in the protocol is what the rule speaks of; that is no "
    "approval."
)
PREVAILS = "Rules that speak of each other, and which of them holds"
NEVER = "Rules that could be applied to no file"
NEVER_NONE = "Every rule could be applied to at least one file."
REASONS = "Why rules were not applied or not decided"
NO_REASON = "no reason was given"


def reason(rule: str, standing: str, why: str, files: str) -> str:
    """Why a rule was not applied to, or not decided on, these files."""
    return f"{rule}, {standing}{f' ({files})' if files else ''}: {why}"


def sources(texts: Sequence[str]) -> str:
    """The published sources of a rule."""
    return f"Sources: {'; '.join(texts)}" if texts else begin(NO_SOURCES)


# --- Files ---------------------------------------------------------------------------------------

FILES = "Files"
FILES_CAPTION = "What became of each file, and of how many rules on it."
FILES_HEAD = (
    "File", "Protocol", "Outcome", "Met", "Failed", "Waived", "Not applicable",
    "Not decided",
)  # fmt: skip
FILES_TOTAL = "All files"
OF_RULES = "rules"

OUTCOME_CORRECT = "To be corrected"
OUTCOME_TEXT = "Text at fault"
OUTCOME_UNDECIDED = "Not judged to the end"
OUTCOME_WAIVED = "In order under a waiver"
OUTCOME_GOOD = "In order"
OUTCOME_NO_PROTOCOL = "Not a protocol"
OUTCOME_NOT_IN_FORCE = "not in force"
OUTCOME_OVERDUE = "review overdue"
OUTCOME_NO_REVIEW = "no day of review"


def owner(who: str | None) -> str:
    """The owner beside the title."""
    return f"owner: {who}" if who else "no owner is named"


def titled(title: str | None, edition: int | None) -> str:
    """Title and edition."""
    if title is None:
        return "no title"
    return f"{title}, edition {edition}" if edition is not None else f"{title}, no edition"


def days(in_force: date | None, review_by: date | None) -> str:
    """The days of the header."""
    begins = f"in force from {day(in_force)}" if in_force else "no day of coming into force"
    return f"{begins}; {f'review by {day(review_by)}' if review_by else OUTCOME_NO_REVIEW}"


def counted(pairs: Sequence[tuple[str, str]]) -> str:
    """Numbers of a table that is set as a form: "met 2, failed 1"."""
    return ", ".join(f"{label.lower()} {value}" for label, value in pairs)


def more_files(n: int) -> str:
    """Where a list is cut: the rest is in a table."""
    return f"{number(n)} more, as the table of files shows"


def findings_of(numbers: Sequence[int], kind: str) -> str:
    """Findings of one file, in the table of files."""
    return f"{kind}: {numbered(numbers, 6)}"


NOT_JUDGED = "What was not judged"
ALL_JUDGED = "Every file was judged to the end."

# --- Completeness --------------------------------------------------------------------------------

COMPLETENESS = "Completeness"
ROOMS = "In the rooms, but named by no protocol"
ROOMS_NONE = "Everything in the rooms is named by some protocol."
NOT_IN_FORCE = "Not in force on the day of judgement"
NOT_IN_FORCE_NONE = "Every protocol is in force."
OVERDUE = "Overdue for review"
OVERDUE_NONE = "No review is overdue."
NO_REVIEW = "Without a day of review"
NOT_PROTOCOLS = "Files that are no protocol, and were not audited"


def in_force_from(file: str, on: date | None) -> str:
    """A protocol that is not in force."""
    return f"{file}: " + (f"in force from {day(on)}" if on else "does not say from when")


def review_was_due(file: str, on: date) -> str:
    """A review that is overdue."""
    return f"{file}: was due by {day(on)}"


# --- What the proof rests on ---------------------------------------------------------------------

RESTS_ON = "What the proof rests on"
RESTS_ON_LEAD = (
    "Taken as given, as the protocols and rooms say. If one of these is not so in practice, what "
    "was proved does not hold."
)
RESTS_ON_HEAD = ("No.", "Taken as given", "In")
RESTS_ON_NOTHING = "No file says what its proof rests on."
LOOKED_AT = "What was looked at"
LOOKED_AT_LEAD = (
    "For each file: its fingerprint, by which a second auditor can tell that it is the same, its "
    "days, what was looked at, and the numbers of what its proof rests on."
)
LOOKED_AT_HEAD = ("File and fingerprint", "What was looked at", "Rests on")
NO_FINGERPRINT = "no fingerprint"
NOTHING_LOOKED_AT = "nothing"


def assumption(n: int) -> str:
    """The mark of one thing that is taken as given."""
    return f"R{n}"


def holds_in(files: int, all_files: int, names: Sequence[str]) -> str:
    """For which files it is taken as given."""
    if all_files > 1 and files == all_files:
        return f"all {number(files)} files"
    return in_files(names)


# --- Files of rules ------------------------------------------------------------------------------

PACKS = "Files of rules"
PACKS_HEAD = ("File of rules", "Rules", "Settings", "Fingerprint")
NO_SETTINGS = "as delivered"

# --- Foot ----------------------------------------------------------------------------------------


def foot(version: str, on: date, packs: Sequence[str], most: int = 240) -> str:
    """What stands at the foot of every page: version, day, packs with their editions.

    Longer than ``most`` letters, packs are counted: the annex lists them.
    """
    told = f"Judged as of {day(on)}. protocol-lang {version}. "
    named = "; ".join(packs)
    if not packs:
        return f"{told}No file of rules."
    if len(named) > most:
        return f"{told}Rules: {count(len(packs), 'file')}, with editions in the annex."
    return f"{told}Rules: {named}."


def page_of(n: str, total: str) -> str:
    """The number of a page."""
    return f"Page {n} of {total}"


ANNEX = "Annex"


def part(n: int, title: str) -> str:
    """A heading with its number."""
    return f"{n}. {title}"


# --- Letters without a font ----------------------------------------------------------------------

STAND_INS = (
    "Letters that the fonts of this page lack are written as their numbers in Unicode, such as "
    "\\u65e5; the other forms of this report show them."
)
