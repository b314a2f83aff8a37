//! Ed25519: signing reproduced byte for byte, verification as strict as the cases demand.

use crate::{File, Tally, bytes, list};
use domain::ledger::{PublicKey, SecretKey};
use serde_json::Value;

pub(crate) fn run(file: &File<'_>, tally: &mut Tally) {
    for section in ["rfc8032", "sign_input"] {
        for case in list(&file.json, section) {
            tally.case(section, &name(case), || {
                let seed: [u8; 32] = bytes(case, "seed")?.try_into().ok()?;
                let key = SecretKey::from_seed(&seed);
                let message = bytes(case, "message")?;
                let signature = bytes(case, "signature")?;
                Some(
                    key.public().as_bytes().as_slice() == bytes(case, "public_key")?
                        && key.sign(&message).as_slice() == signature
                        && key.public().verify(&message, &signature).is_ok(),
                )
            });
        }
    }
    for case in list(&file.json, "verify") {
        tally.case("verify", &name(case), || {
            let verified = PublicKey::from_bytes(&bytes(case, "public_key")?).and_then(|key| {
                let signature = bytes(case, "signature").unwrap_or_default();
                key.verify(&bytes(case, "message").unwrap_or_default(), &signature)
            });
            Some(verified.is_ok() == case.get("valid")?.as_bool()?)
        });
    }
}

fn name(case: &Value) -> String {
    ["name", "line", "id"]
        .into_iter()
        .find_map(|name| case.get(name))
        .map_or_else(String::new, Value::to_string)
}
