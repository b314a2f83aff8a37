"""Checks a certificate's bundle: what `assize verify` must say of it, by the page of formats."""

from datetime import datetime, timezone

from forms import (
    FORMS,
    HEX,
    Checkpoint,
    Disclosure,
    Jws,
    Refused,
    check_disclosures,
    check_inclusion,
    decimal,
    leaf_hash,
    members,
    read_canonical,
    read_digests,
    read_json,
    require,
    sha256,
    unbase64,
)
from report import Report
from trust import Trust

BUNDLE = {
    "act": "text",
    "act_path": "texts",
    "certificate": "text",
    "format": "whole",
    "position": "whole",
    "record": "text",
    "trust": "text",
}
PROOF = "c2sp.org/tlog-proof@"


class Certificate:
    def __init__(self, text):
        require(text.endswith("~"), "something stands behind the last ~")
        parts = text.split("~")
        self.text = parts[0]
        self.jws = Jws(self.text, "assize-certificate+sd-jwt")
        self.payload = read_canonical(self.jws.payload)
        require(isinstance(self.payload, dict), "the payload is no object")
        require("_sd_alg" not in self.payload, "another hash algorithm")
        disclosures = [Disclosure(part) for part in parts[1:-1]]
        self.missing = check_disclosures(self.payload, disclosures)
        forms = {"iss": "text", "jti": "id", "iat": "whole", "number": "text"}
        forms |= {"laboratory": "id", "results": "list"}
        for name, form in forms.items():
            require(name in self.payload, f'"{name}" is missing')
            require(FORMS[form](self.payload[name]), f'"{name}" is no {form}')
        require(self.payload["results"], "there is no result")


class Record:
    def __init__(self, text):
        self.value = read_canonical(text)
        required = {"act": "id", "content": "object", "kind": "kebab", "laboratory": "id"}
        required |= {"schema": "whole", "subject": "id", "version": "whole"}
        members(self.value, required, {"previous": "hash"})
        self.version, self.previous = self.value["version"], self.value.get("previous")
        require(self.version >= 1, "versions count from 1")
        first = self.version == 1
        require(first == (self.previous is None), "version 1 alone names no version before it")
        self.hash = leaf_hash(text.encode())

    def __getattr__(self, name):
        return self.value[name]


class Act:
    def __init__(self, entry):
        require(len(entry) <= 65535, "an entry has at most 65,535 bytes")
        self.jws = Jws(entry, "assize-act+jws")
        self.value = read_canonical(self.jws.payload)
        required = {"act": "id", "action": "kebab", "actor": "object", "laboratory": "id"}
        required |= {"records": "whole", "root": "hash", "time": "time"}
        members(self.value, required, {"reason": "object"})
        actor = self.value["actor"]
        if "account" in actor:
            members(actor, {"account": "id", "role": "token"})
        elif "client" in actor:
            members(actor, {"client": "id", "role": "token"}, {"on_behalf_of": "id"})
        else:
            members(actor, {"process": "token"})
        self.digests = []
        if "reason" in self.value:
            reason = members(self.value["reason"], {"code": "token"}, {"_sd": "list"})
            self.digests = read_digests(reason["_sd"]) if "_sd" in reason else []
        self.records, self.root = self.value["records"], bytes.fromhex(self.value["root"])
        require(1 <= self.records <= 256, "an act holds 1 to 256 records")
        self.id, self.laboratory = self.value["act"], self.value["laboratory"]

    def seconds(self):
        time = datetime.fromisoformat(self.value["time"][:-1]).replace(tzinfo=timezone.utc)
        return int(time.timestamp()) if time.microsecond == 0 else int(
            time.replace(microsecond=0).timestamp()
        )


class Proof:
    def __init__(self, text):
        first, _, rest = text.partition("\n")
        require(first == PROOF + "v1", "the first line says something else")
        head, cut, self.checkpoint_text = rest.partition("\n\n")
        require(cut, "there is no empty line before the checkpoint")
        lines = head.split("\n")
        if lines[0].startswith("extra "):
            unbase64(lines.pop(0)[6:])
        require(lines and lines[0].startswith("index "), "there is no index")
        self.index = decimal(lines[0][6:])
        self.hashes = [unbase64(line) for line in lines[1:]]
        require(all(len(one) == 32 for one in self.hashes), "a hash has 32 bytes")
        require(len(self.hashes) <= 63, "too many hashes")
        self.checkpoint = Checkpoint(self.checkpoint_text)


def _unknown_version(bundle):
    try:
        schema = read_json(bundle["record"]).get("schema")
        if isinstance(schema, int) and schema >= 0 and schema != 1:
            return f"a record of schema {schema}"
    except (Refused, AttributeError):
        pass
    first = bundle.get("proof", PROOF + "v1").partition("\n")[0]
    if first.startswith(PROOF) and first != PROOF + "v1":
        return "a proof of another version"
    return None


def _read(data, trust):
    value = read_json(data)
    known = value.get("format", 1) if isinstance(value, dict) else 1
    require(not FORMS["whole"](known) or known == 1, f"a bundle of format {known}")
    bundle = members(value, BUNDLE, {"proof": "text"})
    unknown = _unknown_version(bundle)
    require(unknown is None, unknown)
    return bundle, None if trust is None else Trust(trust)


def verify_bundle(data, trust=None):
    report = Report()
    try:
        bundle, trust = _read(data, trust)
    except Refused as refused:
        report.unreadable(str(refused))
        return report
    certificate = report.read(1, lambda: Certificate(bundle["certificate"]))
    record = report.read(2, lambda: Record(bundle["record"]))
    act = report.read(3, lambda: Act(bundle["act"]))
    proof = report.read(5, lambda: Proof(bundle["proof"])) if "proof" in bundle else None

    def check_record():
        require(certificate, "there is no certificate")
        content = record.content
        require(record.kind == "certificate" and record.schema == 1, "no record of a certificate")
        digest = sha256(certificate.text.encode()).hex()
        require(content.get("jws") == digest, "the record is of another JWS")
        require(content.get("number") == certificate.payload["number"], "another number")
        require(record.subject == certificate.payload["jti"], "another subject than jti")

    def check_act():
        require(record, "there is no record")
        require(record.act == act.id, "the record names another act")
        same = certificate is None or certificate.payload["iat"] == act.seconds()
        require(same, "iat is not the act's time")
        path = bundle["act_path"]
        require(all(HEX.fullmatch(one) for one in path), "no hash in the act's path")
        hashes = [bytes.fromhex(one) for one in path]
        check_inclusion(bundle["position"], act.records, record.hash, hashes, act.root)

    def check_laboratory():
        named = [certificate and certificate.payload["laboratory"], record and record.laboratory]
        named += [act and act.laboratory, proof and proof.checkpoint.laboratory]
        named += [trust and trust.laboratory]
        require(len({one for one in named if one}) == 1, "several laboratories, or none")

    def check_entry():
        checkpoint = proof.checkpoint
        leaf = leaf_hash(bundle["act"].encode())
        check_inclusion(proof.index, checkpoint.size, leaf, proof.hashes, checkpoint.root)
        for log in trust.logs_of(checkpoint.origin) if trust else []:
            require(log.size is None or proof.index < log.size, "the log ended before this entry")

    def check_checkpoint():
        trust.check_checkpoint(proof.checkpoint)
        met = trust.policy is None or trust.policy.is_met(proof.checkpoint.note)
        require(met, "witnesses that are asked for are missing")

    def key(kid):
        if "proof" not in bundle:
            return trust.key_in_use(kid)
        for log in trust.logs_of(proof.checkpoint.origin):
            try:
                return trust.key_at(kid, log.number, proof.index)
            except Refused:
                continue
        raise Refused(f"no key of the name {kid} is good at entry {proof.index}")

    if record:
        report.check(2, check_record)
    if act:
        report.check(3, check_act)
    report.check(4, check_laboratory)
    if proof:
        report.check(5, check_entry)
    if trust is None:
        report.untrusted()
        return report
    if proof:
        report.check(6, check_checkpoint)
    elif "proof" not in bundle:
        report.unlogged()
        report.check(6, lambda: require(trust.policy is None, "witnesses are asked for"))
    if proof or "proof" not in bundle:
        if act:
            report.check(7, lambda: act.jws.verify(key(act.jws.kid)))
        if certificate:
            report.check(7, lambda: certificate.jws.verify(key(certificate.jws.kid)))
    return report
