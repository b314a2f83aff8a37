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
}

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
        let mut rules = Validation::new(Algorithm::EdDSA);
        rules.set_issuer(&[&self.issuer]);
        rules.set_required_spec_claims(&["iss", "sub", "exp"]);
        rules.validate_exp = false; // by the service's own clock, below
        let claims = jsonwebtoken::decode::<Claims>(token, &self.verifying, &rules)
            .map_err(|fault| {
                ApiError::Unauthenticated(format!("The token is not good ({fault}). Sign in."))
            })?
            .claims;
        if claims.exp <= now.utc().timestamp() {
            return Err(ApiError::Unauthenticated(
                "The token is past. Sign in again.".into(),
            ));
        }
        Ok(claims)
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
