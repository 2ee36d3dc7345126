"""Batches whose page is hard to show: hostile text in every free field, many specimens, long names."""

from __future__ import annotations

from pathlib import Path

HOSTILE = (
    "<script>document.title='hit'</script>",
    "<img src=x onerror=\"document.title='hit'\">",
    "</style></title></table><h1>hit</h1>",
    "{{ 7 * 7 }}{% raw %}",
    "'\"><svg onload=document.title='hit'>",
    "&lt;b&gt; & $x_1^2$ \\(y\\)",
    "javascript:document.title='hit'",
)


def toml(text: str) -> str:
    """A text as a TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


class Words:
    """Hostile texts, each with a number of its own, handed out one after the other."""

    def __init__(self) -> None:
        self.used: list[str] = []

    def __call__(self) -> str:
        """The next one as plain text."""
        self.used.append(f"{HOSTILE[len(self.used) % len(HOSTILE)]} {len(self.used)}")
        return self.used[-1]

    def toml(self) -> str:
        """The next one as a TOML string."""
        return toml(self())

    def cell(self) -> str:
        """The next one as a cell of a CSV table."""
        text = self().replace('"', '""')
        return f'"{text}"'


def hostile(folder: Path, example: Path) -> list[str]:
    """Write a batch with hostile text in every free field; returns the texts that its page must show."""
    words = Words()
    zone, resin, name, core, prepreg = (words() for _ in range(5))
    part = (example / "part.toml").read_text("utf-8")
    part = part.replace('"MAST-04"', words.toml()).replace('issue = "B"', f"issue = {words.toml()}")
    number, issue = words.used[-2:]
    part = part.replace('"hydrofoil mast, lower section"', words.toml())
    for table in ("zone", "plan"):
        part = part.replace(f"[{table}.web]", f"[{table}.{toml(zone)}]")
    part = part.replace('represented_by = "web"', f"represented_by = {toml(zone)}")
    part = part.replace("[limits.thickness.web]", f"[limits.thickness.{toml(zone)}]")
    part = part.replace("[resin.epoxy]", f"[resin.{toml(resin)}]").replace('"epoxy"', toml(resin))
    part = part.replace('process."cure temperature"', f"process.{toml(name)}")
    part = part.replace("[core.fore]", f"[core.{toml(core)}]").replace(
        'core = "fore"', f"core = {toml(core)}"
    )
    part = part.replace("[prepreg.ud150]", f"[prepreg.{toml(prepreg)}]")
    part = part.replace('fill_with = "ud150"', f"fill_with = {toml(prepreg)}")
    part = part.replace("prepreg.ud150.", f"prepreg.{toml(prepreg)}.").replace(
        '"4 ud150"', toml(f"4 {prepreg}")
    )
    part = part.replace('"root", "mid", "tip"', f"{words.toml()}, {words.toml()}, {words.toml()}")
    positions = words.used[-3:]
    batch = (example / "batch.toml").read_text("utf-8")
    batch = batch.replace('"26-031"', words.toml()).replace('"MAST-04"', toml(number))
    batch = batch.replace('part_issue = "B"', f"part_issue = {toml(issue)}")
    batch = batch.replace("plies = { web = 20,", f"plies = {{ {toml(zone)} = 20,")
    batch = batch.replace("[core_used.fore]", f"[core_used.{toml(core)}]")
    batch = batch.replace('prepreg = "ud150"', f"prepreg = {toml(prepreg)}")
    batch = batch.replace('process."cure temperature"', f"process.{toml(name)}")
    for free in (
        '"031-01 to 031-12"', '"P2"', '"C-07"', '"C-0192"', '"F-118"', '"BAL-02"', '"K-5521"', '"TH-05"',
        '"shop laboratory"', '"LP-07 issue 4"', '"press log P2-1118"',
    ):  # fmt: skip
        assert batch.count(free) == 1, free
        batch = batch.replace(free, words.toml())
    batch = batch.replace('"L2231"', words.toml())
    lot = words.used[-1]
    table = f"<b>{len(words.used)}<b>&'.csv"
    words.used.append(table)
    batch = batch.replace('"coupons.csv"', toml(table))
    batch += (
        f"\n[concession]\nnumber = {words.toml()}\nauthority = {words.toml()}\n"
        f"characteristics = [{toml(name)}]\nreason = {words.toml()}\n"
        f'[replaces]\nrecord = "{"0" * 64}"\nreason = {words.toml()}\n'
    )
    header, *rows = (example / "coupons.csv").read_text("utf-8").splitlines()
    lines = [f"{header},remark,time,excluded,accepted"]
    for row, position in zip([*rows, rows[0]], [*positions, positions[0]], strict=True):
        _, _, _, _, _, rest = row.split(",", 5)
        excluded = words.cell() if len(lines) == 4 else ""
        free = [words.cell(), _cell(zone), _cell(position), _cell(lot), words.cell(), rest]
        free += [words.cell(), words.cell(), excluded, words.cell() if not excluded else ""]
        lines.append(",".join(free))
        if not excluded:
            words.used.pop()  # an accepted reason answers a warning, and there is none
    (folder / "part.toml").write_text(part, "utf-8")
    (folder / "batch.toml").write_text(batch, "utf-8")
    (folder / table).write_text("\n".join(lines), "utf-8")
    return words.used


def _cell(text: str) -> str:
    doubled = text.replace('"', '""')
    return f'"{doubled}"'


def long(folder: Path, example: Path, specimens: int = 34) -> list[tuple[str, str]]:
    """Write a batch of many specimens with long names and remarks; first and last word of each remark."""
    for name in ("part.toml", "batch.toml"):
        (folder / name).write_text((example / name).read_text("utf-8"), "utf-8")
    header, *rows = (example / "coupons.csv").read_text("utf-8").splitlines()
    lines, marks = [f"{header},remark"], []
    for number in range(specimens):
        _, rest = rows[number % 3].split(",", 1)
        first, last = f"first{number:03d}", f"last{number:03d}"
        remark = " ".join([first, *(f"word{number:03d}{word:02d}" for word in range(12)), last])
        marks.append((first, last))
        lines.append(f"panel-of-the-lower-section-left-{number:04d},{rest},{remark}")
    (folder / "coupons.csv").write_text("\n".join(lines), "utf-8")
    return marks
