//! The origin of a log: under which name its checkpoints are signed and its tiles are served.

use domain::{id::LaboratoryId, ledger::checkpoint::Origin};

/// The origin of a laboratory's log, by the public address of the service.
pub(crate) fn of(public_url: &str, laboratory: LaboratoryId, number: u64) -> Origin {
    Origin {
        host: host(public_url),
        laboratory,
        number,
    }
}

/// Host of a public address, lower case, with its port where that is not 443.
fn host(public_url: &str) -> String {
    let lower = public_url.to_ascii_lowercase();
    let (scheme, rest) = lower.split_once("://").unwrap_or(("https", lower.as_str()));
    let authority = rest.split('/').next().unwrap_or_default();
    let has_port = authority
        .rsplit_once(':')
        .is_some_and(|(_, port)| !port.is_empty() && port.bytes().all(|b| b.is_ascii_digit()));
    match (scheme, authority.strip_suffix(":443"), has_port) {
        (_, Some(host), _) => host.to_owned(),
        ("http", None, false) => format!("{authority}:80"),
        _ => authority.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::host;

    #[test]
    fn the_origin_names_the_port_where_it_is_not_443() {
        assert_eq!(host("https://Records.Example"), "records.example");
        assert_eq!(host("https://records.example:443/base"), "records.example");
        assert_eq!(host("https://records.example:8443"), "records.example:8443");
        assert_eq!(host("http://127.0.0.1:8480"), "127.0.0.1:8480");
        assert_eq!(host("http://records.example"), "records.example:80");
        assert_eq!(host("https://[::1]"), "[::1]");
    }
}
