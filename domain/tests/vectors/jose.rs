//! JWS, thumbprints and disclosures.

use crate::{File, Tally, list, text};
use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use domain::ledger::disclosure::{Disclosure, digest_of};
use domain::ledger::jws::{self, Jws};
use domain::ledger::key::thumbprint;
use domain::ledger::{Hash, PublicKey, SecretKey, canonical};
use serde_json::{Value, json};

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    if let Some(case) = file.json.get("rfc8037") {
        rfc8037(case, tally);
    }
    if let Some(case) = file.json.get("rfc7638") {
        tally.case("rfc7638", "thumbprint", || {
            let jwk = case.get("jwk")?;
            let members = json!({"e": jwk.get("e")?, "kty": jwk.get("kty")?, "n": jwk.get("n")?});
            Some(thumbprint(&members).ok()? == text(case, "thumbprint")?)
        });
    }
    symmetric(&file.json, tally);
    if let Some(case) = file.json.get("golden_certificate") {
        golden(case, tally);
    }
    for case in list(&file.json, "disclosures") {
        tally.case("disclosures", text(case, "source").unwrap_or(""), || {
            disclosure(case)
        });
    }
}

fn rfc8037(case: &Value, tally: &mut Tally) {
    let key = || {
        let seed = URL_SAFE_NO_PAD
            .decode(text(case.get("private_jwk")?, "d")?)
            .ok()?;
        Some(SecretKey::from_seed(&seed.try_into().ok()?))
    };
    tally.case("rfc8037", "thumbprint", || {
        let public = PublicKey::from_jwk(case.get("private_jwk")?).ok()?;
        let input = canonical::to_bytes(&public.to_jwk()).ok()?;
        Some(
            input == text(case, "thumbprint_input")?.as_bytes()
                && public.kid() == text(case, "thumbprint")?
                && thumbprint(&public.to_jwk()).ok()? == public.kid(),
        )
    });
    tally.case("rfc8037", "compact", || {
        let key = key()?;
        let header = canonical::to_bytes(case.get("protected")?).ok()?;
        let payload = text(case, "payload")?.as_bytes();
        let compact = jws::sign(std::str::from_utf8(&header).ok()?, payload, &key);
        let read = Jws::parse(text(case, "compact")?).ok()?;
        Some(compact == text(case, "compact")? && read.verify(key.public()).is_ok())
    });
}

/// Signatures by a shared secret: the signing input is right, and the ledger accepts none of them.
fn symmetric(json: &Value, tally: &mut Tally) {
    let attached = json.get("rfc7515_a1").map(|case| (case, "compact"));
    let unencoded = json.get("rfc7797").map(|case| (case, "compact_b64_true"));
    let key = SecretKey::from_seed(&[7; 32]);
    for (case, name) in attached.into_iter().chain(unencoded) {
        tally.case("HS256", name, || {
            let compact = text(case, name)?;
            let secret = URL_SAFE_NO_PAD.decode(text(case, "k")?).ok()?;
            let (input, signature) = compact.rsplit_once('.')?;
            let made = URL_SAFE_NO_PAD.encode(hmac(&secret, input.as_bytes()).0);
            let accepted = Jws::parse(compact).is_ok_and(|jws| jws.verify(key.public()).is_ok());
            Some(made == signature && !accepted)
        });
    }
    if let Some(case) = json.get("rfc7797") {
        tally.case("HS256", "compact_detached_b64_false", || {
            let compact = text(case, "compact_detached_b64_false")?;
            let payload = text(case, "payload")?;
            let secret = URL_SAFE_NO_PAD.decode(text(case, "k")?).ok()?;
            let (protected, signature) = compact.split_once("..")?;
            let input = format!("{protected}.{payload}");
            let made = URL_SAFE_NO_PAD.encode(hmac(&secret, input.as_bytes()).0);
            let checked = jws::verify_detached(compact, payload.as_bytes(), key.public());
            Some(made == signature && checked.is_err())
        });
    }
}

/// HMAC-SHA-256 (RFC 2104) for a key of at most 64 bytes.
fn hmac(key: &[u8], message: &[u8]) -> Hash {
    let mut block = [0; 64];
    block
        .iter_mut()
        .zip(key)
        .for_each(|(byte, key)| *byte = *key);
    let inner = Hash::of(&[&block.map(|byte| byte ^ 0x36), message].concat());
    Hash::of(&[block.map(|byte| byte ^ 0x5c).as_slice(), &inner.0].concat())
}

fn golden(case: &Value, tally: &mut Tally) {
    let Some(seed) = text(case, "seed").and_then(crate::from_hex) else {
        return;
    };
    let Ok(seed) = <[u8; 32]>::try_from(seed) else {
        return;
    };
    let key = SecretKey::from_seed(&seed);
    tally.case("golden_certificate", "jwks", || {
        let jwk = list(case.get("jwks")?, "keys").first()?;
        Some(text(jwk, "kid")? == key.kid() && PublicKey::from_jwk(jwk).ok()? == *key.public())
    });
    tally.case("golden_certificate", "compact", || {
        let header = canonical::to_bytes(case.get("protected")?).ok()?;
        let header = std::str::from_utf8(&header).ok()?;
        let compact = text(case, "compact")?;
        let read = Jws::parse(compact).ok()?;
        let typ = text(case.get("protected")?, "typ")?;
        Some(
            jws::sign(header, text(case, "payload")?.as_bytes(), &key) == compact
                && read.strict_header(typ).ok()? == key.kid()
                && read.verify(key.public()).is_ok()
                && read.payload() == text(case, "payload")?.as_bytes(),
        )
    });
    if let Some(detached) = case.get("detached") {
        tally.case("golden_certificate", "detached", || {
            let payload = text(detached, "payload")?.as_bytes();
            let compact = text(detached, "compact")?;
            Some(
                jws::sign_detached(payload, &key) == compact
                    && jws::verify_detached(compact, payload, key.public()).is_ok()
                    && jws::verify_detached(compact, b"other", key.public()).is_err(),
            )
        });
    }
    let keys: Vec<PublicKey> = case
        .get("jwks")
        .map(|jwks| list(jwks, "keys"))
        .unwrap_or_default()
        .iter()
        .filter_map(|jwk| PublicKey::from_jwk(jwk).ok())
        .collect();
    for forgery in list(case, "refuse") {
        tally.case(
            "golden_certificate: refuse",
            text(forgery, "name").unwrap_or(""),
            || {
                let compact = text(forgery, "compact")?;
                let accepted = Jws::parse(compact).is_ok_and(|jws| {
                    keys.iter().any(|key| {
                        jws.header_text("kid") == Some(&key.kid()) && jws.verify(key).is_ok()
                    })
                });
                Some(!accepted)
            },
        );
    }
}

fn disclosure(case: &Value) -> Option<bool> {
    let given = text(case, "disclosure")?;
    let digest = digest_of(given) == text(case, "digest")?;
    let decoded = URL_SAFE_NO_PAD.decode(given).ok()?;
    let (Some(name), true) = (text(case, "name"), canonical::is_canonical(&decoded)) else {
        // An element of a list, or an array with spaces, is not what is written here.
        return Some(digest && Disclosure::parse(given).is_err());
    };
    let salt: [u8; 16] = URL_SAFE_NO_PAD
        .decode(text(case, "salt")?)
        .ok()?
        .try_into()
        .ok()?;
    let made = Disclosure::new(salt, name, case.get("value")?).ok()?;
    let read = Disclosure::parse(given).ok()?;
    Some(digest && made.text() == given && read == made)
}
