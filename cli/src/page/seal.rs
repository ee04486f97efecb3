//! What the page allows a browser: its own style and script, by their hashes, and nothing else. No address is ever asked, and markup that slipped
//! into a name would not run.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};

/// The content security policy (W3C, CSP Level 3) of a page with that style and that script.
pub(crate) fn policy(style: &str, script: &str) -> String {
    format!(
        "default-src 'none'; style-src '{}'; script-src '{}'; base-uri 'none'; form-action 'none'",
        source(style),
        source(script)
    )
}

fn source(text: &str) -> String {
    format!("sha256-{}", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

#[cfg(test)]
mod tests {
    use super::policy;

    /// The digests of the empty text and of `abc`: FIPS 180-4, examples of NIST.
    #[test]
    fn sources_are_known_digests() {
        let said = policy("", "abc");
        assert!(said.contains("style-src 'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"), "{said}");
        assert!(said.contains("script-src 'sha256-ungWv48Bz+pBQUDeXa4iI7ADYaOWF3qctBD/YfIAFa0='"), "{said}");
    }
}
