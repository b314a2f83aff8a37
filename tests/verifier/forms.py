"""The forms that everything here is written in: strict JSON, canonical JSON, base64url, Ed25519,
JWS, Merkle trees, signed notes, disclosures.

Written from the published page of formats and from the standards that it names (RFC 7493, 7515,
8032, 8785, 9162, 9901, C2SP signed-note, tlog-checkpoint, tlog-proof, tlog-cosignature,
tlog-policy). Needs Python's standard library and the package `cryptography`, nothing else.
"""

import base64
import hashlib
import json
import re
from datetime import datetime

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey


class Refused(Exception):
    """What was read is not as it must be; says why."""


def require(holds, why):
    if not holds:
        raise Refused(why)


# ---- JSON ----------------------------------------------------------------------------------------


def _object(pairs):
    members = dict(pairs)
    require(len(members) == len(pairs), "a name stands twice in an object")
    return members


def _no_constant(text):
    raise Refused(f"{text} is no JSON")


def _check_text(text):
    for character in text:
        code = ord(character)
        require(not 0xD800 <= code <= 0xDFFF, "a lone surrogate")
        require(code & 0xFFFE != 0xFFFE and not 0xFDD0 <= code <= 0xFDEF, "a noncharacter")


def _check_value(value):
    if isinstance(value, str):
        _check_text(value)
    elif isinstance(value, float):
        require(value == value and abs(value) != float("inf"), "a number out of range")
    elif isinstance(value, list):
        for element in value:
            _check_value(element)
    elif isinstance(value, dict):
        for name, member in value.items():
            _check_text(name)
            _check_value(member)


def read_json(data):
    """One value of I-JSON (RFC 7493) in UTF-8."""
    try:
        text = data.decode("utf-8") if isinstance(data, bytes) else data
        require(not text.startswith("\ufeff"), "a byte order mark")
        value = json.loads(text, object_pairs_hook=_object, parse_constant=_no_constant)
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise Refused(f"no strict JSON: {error}") from error
    _check_value(value)
    return value


def _number(value):
    """A number as ECMAScript prints it (RFC 8785 3.2.2.3)."""
    if isinstance(value, int) and abs(value) <= 2**53:
        return str(value)
    value = float(value)
    if value == 0:
        return "0"
    sign = "-" if value < 0 else ""
    mantissa, _, exponent = f"{abs(value)!r}".partition("e")
    whole, _, fraction = mantissa.partition(".")
    fraction = "" if fraction == "0" else fraction
    point = len(whole) + int(exponent or 0)
    digits = whole + fraction
    stripped = digits.lstrip("0")
    point -= len(digits) - len(stripped)
    digits = stripped.rstrip("0")
    if len(digits) <= point <= 21:
        return sign + digits + "0" * (point - len(digits))
    if 0 < point <= 21:
        return f"{sign}{digits[:point]}.{digits[point:]}"
    if -6 < point <= 0:
        return f"{sign}0.{'0' * -point}{digits}"
    rest = f".{digits[1:]}" if len(digits) > 1 else ""
    return f"{sign}{digits[0]}{rest}e{'+' if point > 0 else '-'}{abs(point - 1)}"


def _text(text):
    short = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f", "\r": "\\r"}
    escaped = (short.get(c) or (f"\\u{ord(c):04x}" if ord(c) < 0x20 else c) for c in text)
    return '"' + "".join(escaped) + '"'


def canonical(value):
    """The canonical text of a value (RFC 8785)."""
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, (int, float)):
        return _number(value)
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    names = sorted(value, key=lambda name: name.encode("utf-16-be"))
    return "{" + ",".join(f"{_text(name)}:{canonical(value[name])}" for name in names) + "}"


def read_canonical(data):
    text = data.decode("utf-8", "strict") if isinstance(data, bytes) else data
    value = read_json(text)
    require(canonical(value) == text, "not in canonical form")
    return value


def has_control_characters(value):
    if isinstance(value, str):
        return any(ord(c) < 0x20 or 0x7F <= ord(c) <= 0x9F for c in value)
    if isinstance(value, list):
        return any(map(has_control_characters, value))
    if isinstance(value, dict):
        return has_control_characters(list(value)) or has_control_characters(list(value.values()))
    return False


UUID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")
HEX = re.compile(r"[0-9a-f]{64}")
KEBAB = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
TOKEN = re.compile(r"[A-Za-z0-9._:-]{1,64}")
TIME = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}\.[0-9]{6}Z")


def is_whole(value):
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 2**53


def _is_time(value):
    if not (isinstance(value, str) and TIME.fullmatch(value)):
        return False
    try:
        datetime.fromisoformat(value[:-1])
        return True
    except ValueError:
        return False


def _form(pattern):
    return lambda value: isinstance(value, str) and pattern.fullmatch(value) is not None


FORMS = {
    "text": lambda value: isinstance(value, str),
    "whole": is_whole,
    "id": _form(UUID),
    "hash": _form(HEX),
    "time": _is_time,
    "kebab": _form(KEBAB),
    "token": _form(TOKEN),
    "list": lambda value: isinstance(value, list),
    "object": lambda value: isinstance(value, dict),
    "texts": lambda value: isinstance(value, list) and all(isinstance(one, str) for one in value),
}


def members(value, required, optional=None):
    """Checks that an object has these members, of these forms, and no others."""
    optional = optional or {}
    require(isinstance(value, dict), "not an object")
    for name, form in required.items():
        require(name in value, f'"{name}" is missing')
        require(FORMS[form](value[name]), f'"{name}" is no {form}')
    for name, member in value.items():
        require(name in required or name in optional, f'"{name}" is not known')
        if name in optional:
            require(FORMS[optional[name]](member), f'"{name}" is no {optional[name]}')
    return value


# ---- bytes ---------------------------------------------------------------------------------------


def unbase64url(text):
    require(re.fullmatch(r"[A-Za-z0-9_-]*", text) is not None, "not base64url without padding")
    try:
        data = base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))
    except ValueError as error:
        raise Refused("not base64url") from error
    require(base64url(data) == text, "base64url with spare bits")
    return data


def base64url(data):
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def unbase64(text):
    try:
        data = base64.b64decode(text, validate=True)
    except ValueError as error:
        raise Refused("not base64") from error
    require(base64.b64encode(data).decode() == text, "base64 with spare bits")
    return data


def sha256(data):
    return hashlib.sha256(data).digest()


# ---- Ed25519 -------------------------------------------------------------------------------------

_P = 2**255 - 19
_L = 2**252 + 27742317777372353535851937790883648493
# The y of the points of small order, with either sign (they and their negatives).
_SMALL = {
    0,
    1,
    _P - 1,
    2707385501144840649318225287225658788936804267575313519463743609750303402022,
    55188659117513257062467267217118295137698188065244968500265048394206261417927,
}


def _y(point):
    return int.from_bytes(point, "little") & (2**255 - 1)


def _is_small(point):
    return _y(point) % _P in _SMALL


class Key:
    """A public key that is relied on: canonical, not of small order."""

    def __init__(self, data):
        require(len(data) == 32, "a key has 32 bytes")
        require(_y(data) < _P and not _is_small(data), "no key of Ed25519 to rely on")
        self.data = data
        try:
            self.key = Ed25519PublicKey.from_public_bytes(data)
        except ValueError as error:
            raise Refused("no key of Ed25519") from error

    def verify(self, message, signature):
        require(len(signature) == 64, "a signature has 64 bytes")
        require(not _is_small(signature[:32]), "a signature's point is of small order")
        require(int.from_bytes(signature[32:], "little") < _L, "a signature's S is too large")
        try:
            self.key.verify(signature, message)
        except InvalidSignature as error:
            raise Refused("the signature does not verify") from error

    @property
    def kid(self):
        text = '{"crv":"Ed25519","kty":"OKP","x":"%s"}' % base64url(self.data)
        return base64url(sha256(text.encode()))


def key_of_jwk(jwk):
    require(isinstance(jwk, dict), "a JWK is an object")
    right = jwk.get("kty") == "OKP" and jwk.get("crv") == "Ed25519"
    require(right and isinstance(jwk.get("x"), str), "no JWK of an Ed25519 key")
    return Key(unbase64url(jwk["x"]))


# ---- JWS -----------------------------------------------------------------------------------------


class Jws:
    """A compact JWS whose header is exactly alg, kid and typ, in canonical form."""

    def __init__(self, text, typ):
        parts = text.split(".")
        require(len(parts) == 3, "not a JWS of three parts")
        self.signed = f"{parts[0]}.{parts[1]}".encode()
        header = unbase64url(parts[0])
        fields = {"alg": "text", "kid": "text", "typ": "text"}
        self.header = members(read_json(header), fields)
        require(canonical(self.header).encode() == header, "the header is not canonical")
        require(self.header["alg"] in ("EdDSA", "Ed25519"), "another alg")
        require(self.header["typ"] == typ, "another typ")
        self.kid = self.header["kid"]
        self.payload = unbase64url(parts[1])
        self.signature = unbase64url(parts[2])
        require(len(self.signature) == 64, "a signature has 64 bytes")

    def verify(self, key):
        key.verify(self.signed, self.signature)


# ---- Merkle tree ---------------------------------------------------------------------------------


def leaf_hash(data):
    return sha256(b"\x00" + data)


def node_hash(left, right):
    return sha256(b"\x01" + left + right)


class Tree:
    """The right edge of a growing tree."""

    def __init__(self):
        self.size = 0
        self.edge = []

    def append(self, leaf):
        node, size = leaf, self.size
        while size & 1:
            node = node_hash(self.edge.pop(), node)
            size >>= 1
        self.edge.append(node)
        self.size += 1

    def root(self):
        if not self.edge:
            return sha256(b"")
        node = self.edge[-1]
        for left in reversed(self.edge[:-1]):
            node = node_hash(left, node)
        return node


def root_of(leaves):
    tree = Tree()
    for leaf in leaves:
        tree.append(leaf)
    return tree.root()


def check_inclusion(index, size, leaf, proof, root):
    """RFC 9162 2.1.3.2."""
    require(index < size, "the index is past the end")
    first, last, node = index, size - 1, leaf
    for sibling in proof:
        require(last != 0, "the proof is too long")
        if first & 1 or first == last:
            node = node_hash(sibling, node)
            while not first & 1 and first != 0:
                first >>= 1
                last >>= 1
        else:
            node = node_hash(node, sibling)
        first >>= 1
        last >>= 1
    require(last == 0, "the proof is too short")
    require(node == root, "the proof leads to another root")


# ---- notes ---------------------------------------------------------------------------------------


def _check_name(name):
    bad = not name or "+" in name or any(c.isspace() or ord(c) < 0x20 for c in name)
    require(not bad, "no name of a key")


class VerifierKey:
    def __init__(self, text):
        parts = text.split("+", 2)
        require(len(parts) == 3, "no verifier key")
        self.text, (self.name, id_text, encoded) = text, parts
        _check_name(self.name)
        data = unbase64(encoded)
        require(data[:1] in (b"\x01", b"\x04"), "a verifier key of another type")
        self.type = data[0]
        self.key = Key(data[1:])
        self.id = sha256(self.name.encode() + b"\n" + data)[:4]
        require(self.id.hex() == id_text, "the key's id is not that of its name and key")


class Note:
    def __init__(self, text):
        controlled = any((ord(c) < 0x20 and c != "\n") or ord(c) == 0x7F for c in text)
        require(not controlled, "a note has control characters")
        cut = text.rfind("\n\n")
        require(cut >= 0, "a note has no empty line")
        self.text, lines = text[: cut + 1], text[cut + 2 :]
        require(lines.endswith("\n"), "a note does not end with a line of a signature")
        self.signatures = []
        for line in lines[:-1].split("\n"):
            parts = line.split(" ")
            require(len(parts) == 3 and parts[0] == "\u2014", "no line of a signature")
            _check_name(parts[1])
            data = unbase64(parts[2])
            require(len(data) > 4, "a signature is too short")
            self.signatures.append((parts[1], data))
        require(len(self.signatures) <= 100, "too many signatures")

    def signers(self, keys):
        """The keys that signed; a line of a known key that is false spoils the note."""
        found = []
        for name, data in self.signatures:
            for key in keys:
                if key.name != name or key.id != data[:4]:
                    continue
                if key.type == 0x01:
                    key.key.verify(self.text.encode(), data[4:])
                else:
                    time = int.from_bytes(data[4:12], "big")
                    said = f"cosignature/v1\ntime {time}\n{self.text}"
                    key.key.verify(said.encode(), data[12:])
                found.append(key.text)
        return set(found)


def decimal(text):
    require(re.fullmatch(r"0|[1-9][0-9]{0,19}", text) is not None, "no decimal number")
    number = int(text)
    require(number < 2**64, "a number is too large")
    return number


ORIGIN = re.compile(rf"([^\s+/A-Z]+)/log/({UUID.pattern})/([1-9][0-9]*)")


class Checkpoint:
    def __init__(self, note):
        self.note = Note(note)
        lines = self.note.text[:-1].split("\n")
        require(len(lines) >= 3 and all(lines), "no checkpoint")
        self.origin, self.size = lines[0], decimal(lines[1])
        self.root = unbase64(lines[2])
        require(len(self.root) == 32, "a root has 32 bytes")
        named = ORIGIN.fullmatch(self.origin)
        require(named is not None, "the origin is not <host>/log/<laboratory>/<number>")
        self.laboratory, self.log = named.group(2), int(named.group(3))


class Policy:
    """Which witnesses must have signed (tlog-policy)."""

    def __init__(self, text):
        self.witnesses, self.groups, self.quorum = {}, {}, None
        for line in text.split("\n"):
            words = line.split()
            if not words or words[0].startswith("#") or words[0] == "log":
                continue
            if words[0] == "witness" and len(words) in (3, 4):
                require(words[1] not in self.witnesses, "a witness stands twice")
                key = VerifierKey(words[2])
                require(key.type == 0x04, "a witness's key is for cosignatures")
                self.witnesses[words[1]] = key
            elif words[0] == "group" and len(words) >= 4:
                known = {**self.witnesses, **self.groups}
                require(all(name in known for name in words[3:]), "a group of unknown members")
                need = {"any": 1, "all": len(words) - 3}.get(words[2])
                need = decimal(words[2]) if need is None else need
                require(1 <= need <= len(words) - 3, "a group that can never be met")
                self.groups[words[1]] = (need, words[3:])
            elif words[0] == "quorum" and len(words) == 2 and self.quorum is None:
                self.quorum = words[1]
            else:
                raise Refused("a line of the witness policy is not understood")
        require(self.quorum is not None, "the witness policy has no quorum")
        known = {"none", *self.witnesses, *self.groups}
        require(self.quorum in known, "the quorum is not known")

    def is_met(self, note):
        signers = note.signers(list(self.witnesses.values()))

        def met(name):
            if name in self.witnesses:
                return self.witnesses[name].text in signers
            need, of = self.groups[name]
            return sum(map(met, of)) >= need

        return self.quorum == "none" or met(self.quorum)


# ---- disclosures ---------------------------------------------------------------------------------


def read_digests(value):
    """An `_sd`: digests, sorted, each once."""
    require(isinstance(value, list) and value, '"_sd" is no list of digests')
    for digest in value:
        require(isinstance(digest, str) and len(unbase64url(digest)) == 32, "no digest")
    require(value == sorted(set(value)), '"_sd" is not sorted, or names a digest twice')
    return value


def digests_in(value):
    """All digests in a value, in whatever object."""
    if isinstance(value, list):
        return [digest for element in value for digest in digests_in(element)]
    if not isinstance(value, dict):
        return []
    own = read_digests(value["_sd"]) if "_sd" in value else []
    inner = [d for name, member in value.items() if name != "_sd" for d in digests_in(member)]
    return own + inner


def _mentions(value, names):
    if isinstance(value, list):
        return any(_mentions(element, names) for element in value)
    if isinstance(value, dict):
        return any(name in names or _mentions(member, names) for name, member in value.items())
    return False


class Disclosure:
    def __init__(self, text):
        array = read_canonical(unbase64url(text).decode("utf-8", "surrogateescape"))
        require(isinstance(array, list) and len(array) == 3, "no salt, name and value")
        salt, self.name, self.value = array
        require(isinstance(salt, str) and len(unbase64url(salt)) == 16, "a salt has 16 bytes")
        require(isinstance(self.name, str), "a name is text")
        require(self.name not in ("_sd", "..."), "a name of the mechanism itself")
        require(self.value is not None, "a disclosure says nothing")
        require(not _mentions(self.value, ("_sd", "...")), "a concealed value conceals others")
        controlled = has_control_characters([self.name, self.value])
        require(not controlled, "control characters in a disclosure")
        self.digest = base64url(sha256(text.encode("ascii")))


def check_disclosures(payload, disclosures):
    """Every disclosure has its digest, no digest stands twice; the digests without one."""
    given = {}
    for disclosure in disclosures:
        require(disclosure.digest not in given, "a disclosure is given twice")
        given[disclosure.digest] = disclosure
    seen = set()

    def walk(value):
        if isinstance(value, list):
            for element in value:
                walk(element)
        if not isinstance(value, dict):
            return
        require("..." not in value, "a digest of a list's element")
        names = set(value) - {"_sd"}
        for name in list(names):
            walk(value[name])
        for digest in read_digests(value["_sd"]) if "_sd" in value else []:
            require(digest not in seen, "a digest stands twice")
            seen.add(digest)
            if digest in given:
                name = given.pop(digest).name
                require(name not in names, f'"{name}" stands in its object already')
                names.add(name)

    walk(payload)
    require(not given, "a disclosure has its digest nowhere")
    return sorted(seen - {one.digest for one in disclosures})
