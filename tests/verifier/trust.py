"""The trust file: the keys of a laboratory, from where whoever verifies trusts them."""

from forms import Policy, Refused, VerifierKey, key_of_jwk, members, read_json, require

ORDINARY = {"keys": "list", "laboratory": "id", "logs": "list", "name": "text", "size": "whole"}


class TrustedKey:
    def __init__(self, value):
        required = {"crv": "text", "kty": "text", "x": "text", "kid": "text"}
        required |= {"log": "whole", "from_entry": "whole"}
        optional = {"alg": "text", "use": "text", "until_entry": "whole"}
        members(value, required, optional)
        require(value.get("alg") in (None, "EdDSA", "Ed25519"), "a key of another algorithm")
        require(value.get("use") in (None, "sig"), "a key for something else than signatures")
        self.key = key_of_jwk(value)
        self.kid, self.log = value["kid"], value["log"]
        require(self.key.kid == self.kid, "a kid is not the thumbprint of its key")
        self.first, self.until = value["from_entry"], value.get("until_entry")

    def good_at(self, entry):
        return self.first <= entry and (self.until is None or entry < self.until)


class TrustedLog:
    def __init__(self, value):
        required = {"number": "whole", "origin": "text", "vkey": "text"}
        members(value, required, {"size": "whole", "root": "hash"})
        self.number, self.origin = value["number"], value["origin"]
        self.key = VerifierKey(value["vkey"])
        of_log = self.key.name == self.origin and self.key.type == 0x01
        require(of_log, "a log's key is not named after its log")
        require(("size" in value) == ("root" in value), "an ended log has both size and root")
        self.size = value.get("size")
        self.root = bytes.fromhex(value["root"]) if "root" in value else None


class Trust:
    def __init__(self, data):
        value = members(read_json(data), ORDINARY, {"witnesses": "text"})
        self.laboratory, self.size = value["laboratory"], value["size"]
        self.keys = [TrustedKey(key) for key in value["keys"]]
        self.logs = [TrustedLog(log) for log in value["logs"]]
        self.policy = Policy(value["witnesses"]) if "witnesses" in value else None
        log_keys = {log.key.key.data for log in self.logs}
        require(not any(k.key.data in log_keys for k in self.keys), "a record key is a log key")

    def logs_of(self, origin):
        return [log for log in self.logs if log.origin == origin]

    def key_at(self, kid, log, entry):
        """The key of this name that is good at an entry of a log."""
        for key in self.keys:
            if key.kid == kid and key.log == log and key.good_at(entry):
                return key.key
        raise Refused(f"no key of the name {kid} is good at entry {entry}")

    def key_in_use(self, kid):
        for key in self.keys:
            if key.kid == kid and key.until is None:
                return key.key
        raise Refused(f"no key of the name {kid} is in use")

    def check_checkpoint(self, checkpoint):
        """Signed by a key of its log; within a log that has ended."""
        logs = self.logs_of(checkpoint.origin)
        require(checkpoint.note.signers([log.key for log in logs]), "no signature by a known key")
        for log in logs:
            if log.size is not None:
                require(checkpoint.size <= log.size, f"the log ended at size {log.size}")
                same = checkpoint.size < log.size or checkpoint.root == log.root
                require(same, "the log had another root at its end")
