"""Checks the archive of a laboratory's log: everything but the computing again of what is derived.

By the page of formats (*Archive*, *Record*, *Act*, *Log*): entries from 0 without a gap, acts once
each with the root of their records, versions and their predecessors, checkpoints, keys as the
records announce them and as the trust file says, disclosures.
"""

import zipfile

from bundle import Act, Record
from forms import (
    Checkpoint,
    Disclosure,
    Refused,
    Tree,
    digests_in,
    key_of_jwk,
    leaf_hash,
    members,
    read_canonical,
    read_json,
    require,
    root_of,
)
from report import Report
from trust import Trust

COUNTS = {"checkpoints": "whole", "disclosures": "whole", "entries": "whole", "records": "whole"}
MANIFEST = {"counts": "object", "format": "whole", "from": "whole", "laboratory": "id"}
MANIFEST |= {"log": "whole", "to": "whole"}
WHOLE = ("manifest.json", "trust.json", "entries.jsonl", "records.jsonl", "disclosures.jsonl")
MOST = 1 << 30


class Files:
    """The files of a ZIP that is an archive and nothing else."""

    def __init__(self, path):
        try:
            self.zip = zipfile.ZipFile(path)
            infos = self.zip.infolist()
            names = [info.filename for info in infos]
            require(len(set(names)) == len(names), "a file's name stands twice")
            for info in infos:
                known = info.filename in WHOLE or info.filename == "checkpoints/"
                number = info.filename.removeprefix("checkpoints/")
                known = known or (number.isdecimal() and f"checkpoints/{int(number)}" == info.filename)
                require(known, f"{info.filename!r} is no file of an archive")
                require(not info.flag_bits & 1, "a file is encrypted")
                require(info.compress_type in (0, 8), "compressed by another method than deflate")
                require(info.file_size <= max(info.compress_size * 100, 1 << 24), "a bomb")
            for name in WHOLE:
                require(name in names, f"{name} is missing")
            held = [n for n in names if n.startswith("checkpoints/") and n != "checkpoints/"]
            self.checkpoints = sorted(held, key=lambda name: int(name.split("/")[1]))
        except (OSError, zipfile.BadZipFile, NotImplementedError, ValueError) as error:
            raise Refused(f"no whole ZIP file: {error}") from error

    def read(self, name):
        try:
            with self.zip.open(name) as file:
                data = file.read(MOST + 1)
        except (OSError, zipfile.BadZipFile, EOFError, ValueError, RuntimeError) as error:
            raise Refused(f"{name}: {error}") from error
        except Exception as error:  # zlib.error is raised as it is
            raise Refused(f"{name}: {error}") from error
        require(len(data) <= MOST, f"{name} is too large for this verifier")
        return data

    def lines(self, name):
        data = self.read(name)
        return data.removesuffix(b"\n").split(b"\n") if data else []


def _line(line, forms):
    return members(read_canonical(line), forms)


class Keys:
    """The keys that sign acts, as the records announce and withdraw them."""

    def __init__(self):
        self.keys = []
        self.newest = {}

    def add(self, entry, record):
        content = record.content
        require("jwk" in content and content.get("use") in ("record", "log"), "no key of a use")
        kid = key_of_jwk(content["jwk"]).kid
        before = self.newest.get(record.subject)
        if before and before["until"] is None:
            before["until"] = entry + 1
        if before and before["kid"] == kid:
            return
        key = {"kid": kid, "use": content["use"], "until": None}
        key["from"] = 0 if entry == 0 else entry + 1
        self.newest[record.subject] = key
        self.keys.append(key)

    def good(self, kid, entry):
        return any(
            key["use"] == "record"
            and key["kid"] == kid
            and key["from"] <= entry
            and (key["until"] is None or entry < key["until"])
            for key in self.keys
        )

    def compare(self, trust, log, size):
        """What the trust file says otherwise, as far as either could know."""
        for key in self.keys:
            if key["use"] != "record":
                continue
            named = [one for one in trust.keys if one.kid == key["kid"] and one.log == log]
            if not named:
                if key["from"] < min(trust.size, size):
                    yield f"key {key['kid']} is not in the trust file"
                continue
            if named[0].first != key["from"]:
                yield f"key {key['kid']} is good from {key['from']}, not from {named[0].first}"
            ours, theirs = key["until"], named[0].until
            ours = ours if ours is not None and ours <= max(trust.size, 1) else None
            theirs = theirs if theirs is not None and theirs <= size else None
            if ours != theirs:
                yield f"key {key['kid']} is good until {ours}, not until {theirs}"
        announced = {key["kid"] for key in self.keys}
        for named in trust.keys:
            known = named.kid in announced or named.log != log or log > 1
            if not known and named.first < size:
                yield f"no record announces key {named.kid} of the trust file"


class Verifier:
    def __init__(self, path, checkpoints, trust):
        self.report = Report()
        self.files = Files(path)
        value = read_json(self.files.read("manifest.json"))
        known = isinstance(value, dict) and value.get("format", 1) == 1
        require(known, "an archive of another format")
        self.manifest = members(value, MANIFEST)
        self.counts = members(self.manifest["counts"], COUNTS)
        require(self.manifest["from"] == 0, "whole logs are checked, from entry 0")
        require(self.manifest["to"] == self.counts["entries"], "the manifest contradicts itself")
        own = self.files.read("trust.json")
        self.trust = Trust(own if trust is None else trust)
        if trust is None:
            self.report.untrusted()
        self.given = checkpoints
        self.log = self.manifest["log"]
        self.laboratory = self.manifest["laboratory"]
        self.tree, self.keys = Tree(), Keys()
        self.acts, self.subjects, self.digests = set(), {}, set()
        self.next = 0
        self.records = self._records()

    def _records(self):
        """The lines of the records by the act that they name."""
        found = {}
        lines = self.files.lines("records.jsonl")
        self._counted("records", len(lines))
        for number, line in enumerate(lines, 1):
            form = {"act": "id", "position": "whole", "record": "text"}
            read = self.report.read(4, lambda: self._named(number, line, form))
            if read:
                found.setdefault(read["act"], []).append(read)
        return found

    @staticmethod
    def _named(number, line, form):
        try:
            return _line(line, form)
        except (Refused, UnicodeError) as refused:
            raise Refused(f"line {number} of records.jsonl: {refused}") from refused

    def _counted(self, what, here):
        if self.counts[what] != here:
            self.report.fail(1, f"the manifest counts {self.counts[what]} {what}; {here} are here")

    def run(self):
        report = self.report
        if self.trust.laboratory != self.laboratory:
            report.fail(1, "the trust file is of another laboratory")
        held = self._checkpoints()
        roots = {0: self.tree.root()}
        lines = self.files.lines("entries.jsonl")
        self._counted("entries", len(lines))
        for number, line in enumerate(lines, 1):
            self._entry(number, line)
            roots[self.tree.size] = self.tree.root()
        for act, left in self.records.items():
            report.fail(4, f"{len(left)} records of act {act} belong to no entry")
        for name, checkpoint in held:
            if checkpoint.size > self.tree.size:
                report.fail(6, f"{name}: it seals {checkpoint.size} entries")
            elif checkpoint.root != roots[checkpoint.size]:
                report.fail(6, f"{name}: the first {checkpoint.size} entries have another root")
        newest = max(held, key=lambda one: one[1].size, default=None)
        if newest is None:
            report.fail(6, "there is no checkpoint")
        else:
            if newest[1].size < self.tree.size:
                report.fail(6, f"entries from {newest[1].size} on are under no checkpoint")
            policy = self.trust.policy
            met = [one.size for _, one in held if policy and policy.is_met(one.note)]
            seen = max(met, default=-1)
            if policy and seen < self.tree.size:
                report.fail(6, f"entries from {max(seen, 0)} on lack the witnesses asked for")
        for problem in self.keys.compare(self.trust, self.log, self.tree.size):
            report.fail(7, problem)
        self._disclosures()
        return report

    def _checkpoints(self):
        notes = [(name, self.files.read(name)) for name in self.files.checkpoints]
        self._counted("checkpoints", len(notes))
        held = []

        def read(name, note):
            try:
                checkpoint = Checkpoint(note.decode())
                of_log = (checkpoint.laboratory, checkpoint.log) == (self.laboratory, self.log)
                require(of_log, "it is of another log")
                size = name.removeprefix("checkpoints/")
                in_place = size == name or size == str(checkpoint.size)
                require(in_place, f"it is of size {checkpoint.size}")
                self.trust.check_checkpoint(checkpoint)
            except (Refused, UnicodeError) as refused:
                raise Refused(f"{name}: {refused}") from refused
            return checkpoint

        for name, note in notes + self.given:
            checkpoint = self.report.read(6, lambda: read(name, note))
            if checkpoint:
                held.append((name, checkpoint))
        return held

    def _entry(self, number, line):
        report = self.report
        form = {"entry": "text", "index": "whole"}
        read = report.read(2, lambda: _line(line, form))
        if read is None:
            report.fail(2, f"line {number} of entries.jsonl is none")
            return
        index, entry = read["index"], read["entry"]
        if index != self.next:
            missing = index > self.next
            text = f"entry {self.next} is missing" if missing else f"entry {index} is out of place"
            report.fail(2, text)
        self.next = max(self.next, index + 1)
        self.tree.append(leaf_hash(entry.encode()))
        try:
            act = Act(entry)
        except (Refused, UnicodeError) as refused:
            report.fail(3, f"entry {index}: {refused}")
            return
        place = f"entry {index}, act {act.id}"
        if act.id in self.acts:
            report.fail(3, f"{place}: it stands in the log already")
        self.acts.add(act.id)
        if act.laboratory != self.laboratory:
            report.fail(3, f"{place}: of another laboratory")
        lines = self.records.pop(act.id, [])
        records = [self._record(index, act, n, one) for n, one in enumerate(lines)]
        self.digests.update(act.digests)
        if len(lines) != act.records:
            report.fail(3, f"{place}: it holds {act.records} records; {len(lines)} are here")
        else:
            root = root_of([leaf_hash(one["record"].encode()) for one in lines])
            if root != act.root:
                report.fail(3, f"{place}: its root is not that of its records")
        if index == 0:
            self._announce(index, records)
        self._signature(index, act)
        if index > 0:
            self._announce(index, records)

    def _record(self, index, act, position, line):
        place = f"entry {index}, record {position}"
        try:
            require(line["position"] == position, "another position")
            record = Record(line["record"])
            place += f", subject {record.subject}"
            require(record.act == act.id, "it names another act")
            require(record.laboratory == self.laboratory, "it is of another laboratory")
            self.digests.update(digests_in(record.content))
        except (Refused, UnicodeError) as refused:
            self.report.fail(4, f"{place}: {refused}")
            return None
        before = self.subjects.get(record.subject)
        self.subjects[record.subject] = (record.version, record.hash)
        if before is None:
            if record.version != 1 and self.log == 1:
                self.report.fail(5, f"{place}: version 1 is missing")
        elif record.version != before[0] + 1:
            self.report.fail(5, f"{place}: version {record.version} follows {before[0]}")
        elif record.previous != before[1].hex():
            self.report.fail(5, f"{place}: it names another version before it")
        return record

    def _announce(self, index, records):
        for record in records:
            if record and record.kind == "key":
                self.report.read(7, lambda: self.keys.add(index, record))

    def _signature(self, index, act):
        try:
            known = self.log > 1 or self.keys.good(act.jws.kid, index)
            require(known, f"no record makes key {act.jws.kid} good here")
            act.jws.verify(self.trust.key_at(act.jws.kid, self.log, index))
        except Refused as refused:
            self.report.fail(7, f"entry {index}, act {act.id}: {refused}")

    def _disclosures(self):
        lines = self.files.lines("disclosures.jsonl")
        self._counted("disclosures", len(lines))
        seen = set()
        for number, line in enumerate(lines, 1):
            try:
                read = _line(line, {"digest": "text", "disclosure": "text"})
                disclosure = Disclosure(read["disclosure"])
                require(disclosure.digest == read["digest"], "it has another digest")
                require(disclosure.digest not in seen, "it stands there twice")
                seen.add(disclosure.digest)
            except (Refused, UnicodeError) as refused:
                self.report.fail(8, f"line {number} of disclosures.jsonl: {refused}")


def verify_archive(path, checkpoints=(), trust=None):
    """`checkpoints` are pairs of a name and the note's bytes, `trust` the trust file's bytes."""
    try:
        return Verifier(path, list(checkpoints), trust).run()
    except Refused as refused:
        report = Report()
        report.unreadable(str(refused))
        return report
