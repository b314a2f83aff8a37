//! Access tokens: JSON Web Tokens, signed with Ed25519, good for fifteen minutes.
//!
//! Refuses any other algorithm, a token of another service, one that is past, one without
//! laboratory. A token names the account or client, its laboratory and its roles.

use crate::{error::ApiError, secrets::Seed};
use domain::{identity::Role, time::Moment};
use ed25519_dalek::{Signature, Signer as _, SigningKey, Verifier as _, VerifyingKey, pkcs8};
use jsonwebtoken::{
    Algorithm, AlgorithmFamily, DecodingKey, EncodingKey, Header, Validation,
    crypto::{CryptoProvider, JwtSigner, JwtVerifier, KeyUtils},
    errors::{ErrorKind, Result as JwtResult},
    signature::{Error as SignatureError, Signer, Verifier},
};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::{
    collections::HashMap,
    sync::{PoisonError, RwLock},
};
use uuid::Uuid;

/// How long a token is good, in seconds.
pub const TOKEN_LIFE_S: i64 = 900;

/// What a token says.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Claims {
    /// The service that issued it.
    pub iss: String,
    /// The account or client.
    pub sub: Uuid,
    /// The laboratory.
    pub laboratory: Uuid,
    /// Its name in addresses.
    pub slug: String,
    /// Whether `sub` is a service client.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub client: bool,
    /// The customer that the account belongs to, for the role customer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub customer: Option<Uuid>,
    /// What it may act as.
    pub roles: Vec<Role>,
    /// When it was issued, seconds since 1970.
    pub iat: i64,
    /// When it ends, seconds since 1970.
    pub exp: i64,
}

struct Ed25519Signer(SigningKey);
struct Ed25519Verifier(VerifyingKey);

impl Signer<Vec<u8>> for Ed25519Signer {
    fn try_sign(&self, message: &[u8]) -> Result<Vec<u8>, SignatureError> {
        Ok(self.0.sign(message).to_bytes().to_vec())
    }
}

impl JwtSigner for Ed25519Signer {
    fn algorithm(&self) -> Algorithm {
        Algorithm::EdDSA
    }
}

impl Verifier<Vec<u8>> for Ed25519Verifier {
    fn verify(&self, message: &[u8], signature: &Vec<u8>) -> Result<(), SignatureError> {
        let signature = Signature::from_slice(signature).map_err(SignatureError::from_source)?;
        self.0
            .verify(message, &signature)
            .map_err(SignatureError::from_source)
    }
}

impl JwtVerifier for Ed25519Verifier {
    fn algorithm(&self) -> Algorithm {
        Algorithm::EdDSA
    }
}

fn signer(_: &Algorithm, key: &EncodingKey) -> JwtResult<Box<dyn JwtSigner>> {
    if key.family() != AlgorithmFamily::Ed {
        return Err(ErrorKind::InvalidAlgorithm.into());
    }
    let key = <SigningKey as pkcs8::DecodePrivateKey>::from_pkcs8_der(key.as_bytes())
        .map_err(|_unusable| ErrorKind::InvalidEddsaKey)?;
    Ok(Box::new(Ed25519Signer(key)))
}

fn verifier(_: &Algorithm, key: &DecodingKey) -> JwtResult<Box<dyn JwtVerifier>> {
    if key.family() != AlgorithmFamily::Ed {
        return Err(ErrorKind::InvalidAlgorithm.into());
    }
    let bytes = <[u8; 32]>::try_from(key.try_get_as_bytes()?)
        .map_err(|_unusable| ErrorKind::InvalidEddsaKey)?;
    let key = VerifyingKey::from_bytes(&bytes).map_err(|_unusable| ErrorKind::InvalidEddsaKey)?;
    Ok(Box::new(Ed25519Verifier(key)))
}

static PROVIDER: CryptoProvider = CryptoProvider {
    signer_factory: signer,
    verifier_factory: verifier,
    key_utils: KeyUtils::new_unimplemented(),
};

/// Issues tokens and reads them back.
pub struct Tokens {
    issuer: String,
    signing: EncodingKey,
    verifying: DecodingKey,
    /// Tokens whose signature was checked, by their digest: a program sends the same one with each
    /// reading, and checking it takes longer than reading it.
    checked: RwLock<HashMap<[u8; 32], Claims>>,
}

/// How many checked tokens are kept.
const MOST_CHECKED: usize = 4096;

impl Tokens {
    /// Tokens of the service at `issuer`, signed with the key of this seed.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where the key cannot be encoded.
    pub fn new(issuer: &str, seed: &Seed) -> Result<Self, ApiError> {
        if PROVIDER.install_default().is_err() {
            tracing::debug!("the token provider was installed before");
        }
        let key = SigningKey::from_bytes(seed.bytes());
        let der = <SigningKey as pkcs8::EncodePrivateKey>::to_pkcs8_der(&key)
            .map_err(ApiError::internal)?;
        Ok(Self {
            issuer: issuer.to_owned(),
            signing: EncodingKey::from_ed_der(der.as_bytes()),
            verifying: DecodingKey::from_ed_der(key.verifying_key().as_bytes()),
            checked: RwLock::default(),
        })
    }

    /// Issues a token from `now` on.
    ///
    /// # Errors
    /// [`ApiError::Internal`] where signing fails.
    pub fn issue(&self, subject: Subject, now: Moment) -> Result<String, ApiError> {
        let issued = now.utc().timestamp();
        let claims = Claims {
            iss: self.issuer.clone(),
            sub: subject.id,
            laboratory: subject.laboratory,
            slug: subject.slug,
            client: subject.client,
            customer: subject.customer,
            roles: subject.roles,
            iat: issued,
            exp: issued.saturating_add(TOKEN_LIFE_S),
        };
        jsonwebtoken::encode(&Header::new(Algorithm::EdDSA), &claims, &self.signing)
            .map_err(ApiError::internal)
    }

    /// Reads a token that is good at `now`.
    ///
    /// # Errors
    /// [`ApiError::Unauthenticated`], with what to do.
    pub fn read(&self, token: &str, now: Moment) -> Result<Claims, ApiError> {
        let digest: [u8; 32] = Sha256::digest(token).into();
        let now = now.utc().timestamp();
        let known = self
            .checked
            .read()
            .unwrap_or_else(PoisonError::into_inner)
            .get(&digest)
            .cloned();
        let is_new = known.is_none();
        let claims = match known {
            Some(claims) => claims,
            None => self.check(token)?,
        };
        if claims.exp <= now {
            return Err(ApiError::Unauthenticated(
                "The token is past. Sign in again.".into(),
            ));
        }
        if is_new {
            let mut checked = self.checked.write().unwrap_or_else(PoisonError::into_inner);
            if checked.len() >= MOST_CHECKED {
                checked.retain(|_, claims| claims.exp > now);
            }
            if checked.len() < MOST_CHECKED {
                checked.insert(digest, claims.clone());
            }
        }
        Ok(claims)
    }

    fn check(&self, token: &str) -> Result<Claims, ApiError> {
        let mut rules = Validation::new(Algorithm::EdDSA);
        rules.set_issuer(&[&self.issuer]);
        rules.set_required_spec_claims(&["iss", "sub", "exp"]);
        rules.validate_exp = false; // by the service's own clock, by whoever calls
        let read = jsonwebtoken::decode::<Claims>(token, &self.verifying, &rules);
        read.map(|token| token.claims).map_err(|fault| {
            ApiError::Unauthenticated(format!("The token is not good ({fault}). Sign in."))
        })
    }
}

/// For whom a token is issued.
#[derive(Debug, Clone)]
pub struct Subject {
    /// The account or client.
    pub id: Uuid,
    /// The laboratory.
    pub laboratory: Uuid,
    /// Its name in addresses.
    pub slug: String,
    /// Whether it is a service client.
    pub client: bool,
    /// The customer that the account belongs to.
    pub customer: Option<Uuid>,
    /// What it may act as.
    pub roles: Vec<Role>,
}

#[cfg(test)]
mod tests {
    #![expect(clippy::unwrap_used, reason = "tests may unwrap")]
    use super::*;
    use std::{fs, os::unix::fs::PermissionsExt as _};

    #[test]
    fn a_token_that_was_read_before_is_still_refused_when_altered_or_past() {
        let file = std::env::temp_dir().join(format!("assize-token-{}", std::process::id()));
        fs::write(&file, "7".repeat(64)).unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
        let seed = Seed::from_file(&file).unwrap();
        fs::remove_file(&file).unwrap();
        let tokens = Tokens::new("https://quay.example", &seed).unwrap();
        let now: Moment = "2026-03-01T08:00:00Z".parse().unwrap();
        let subject = Subject {
            id: Uuid::from_u128(1),
            laboratory: Uuid::from_u128(2),
            slug: "quay".to_owned(),
            client: false,
            customer: None,
            roles: vec![Role::Analyst],
        };
        let token = tokens.issue(subject, now).unwrap();
        assert_eq!(tokens.read(&token, now).unwrap().sub, Uuid::from_u128(1));
        assert_eq!(tokens.read(&token, now).unwrap().sub, Uuid::from_u128(1));
        let (head, signature) = token.rsplit_once('.').unwrap();
        let altered = format!("{head}.{}", signature.to_ascii_uppercase());
        assert!(tokens.read(&altered, now).is_err(), "another signature");
        let past: Moment = "2026-03-01T08:15:00Z".parse().unwrap();
        assert!(
            tokens.read(&token, past).is_err(),
            "good for fifteen minutes"
        );
        assert!(tokens.read(&token, now).is_ok());
    }
}
