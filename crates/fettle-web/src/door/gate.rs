//! Under which names a bench answers, and which requests come from its own pages.
//!
//! # Why no token stands in the forms
//!
//! A page of another site can make a browser send a form here; what it cannot do is choose the headers by which
//! browsers tell where a request comes from. A request that changes something must carry `Origin` or
//! `Sec-Fetch-Site` and they must name this site; over the network one that carries neither is refused. Every browser
//! that speaks TLS 1.2 sends `Origin` with each form that is posted (Fetch Standard, section 3.2), so nothing of the
//! bench's own is lost. On its own computer a request without either is taken: only programs send such, and a program
//! that runs here can read the folder anyway. Beside that the session's cookie is `SameSite=Lax`, so that a
//! foreign page's form comes without it; and nothing is changed by `GET`.

use std::net::{IpAddr, SocketAddr};

use axum::http::header::{HOST, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method};

use crate::error::PageError;

/// By which way requests come.
#[derive(Clone, Debug)]
pub(crate) enum Gate {
    /// From this computer; the port when it is known.
    Own { port: Option<u16> },
    /// From the network, over TLS, under these names too.
    Network { names: Vec<String>, port: u16 },
}

impl Gate {
    pub(crate) fn is_network(&self) -> bool {
        matches!(self, Self::Network { .. })
    }

    const fn scheme(&self) -> &'static str {
        match self {
            Self::Own { .. } => "http",
            Self::Network { .. } => "https",
        }
    }

    /// Whether a request for this host, which came in at `here`, is meant for this bench.
    fn is_own_host(&self, host: &str, here: Option<SocketAddr>) -> bool {
        let default = if self.is_network() { 443 } else { 80 };
        let Some((name, port)) = parted(host, default) else {
            return false;
        };
        match self {
            Self::Own { port: own } => is_loopback_name(name) && own.is_none_or(|own| own == port),
            Self::Network { names, port: own } => {
                let is_here = here.is_some_and(|here| {
                    literal(name) == Some(here.ip().to_canonical())
                        || (here.ip().to_canonical().is_loopback() && is_loopback_name(name))
                });
                let is_named = names.iter().any(|own| own.eq_ignore_ascii_case(name));
                *own == port && (is_here || is_named)
            }
        }
    }
}

fn is_loopback_name(name: &str) -> bool {
    ["localhost", "127.0.0.1", "[::1]"]
        .iter()
        .any(|own| own.eq_ignore_ascii_case(name))
}

/// The address that a host is, if it is one.
fn literal(name: &str) -> Option<IpAddr> {
    let bare = name
        .strip_prefix('[')
        .and_then(|name| name.strip_suffix(']'));
    let address: IpAddr = bare.unwrap_or(name).parse().ok()?;
    // In an address the long form stands in brackets, the short one does not.
    (address.is_ipv6() == bare.is_some()).then(|| address.to_canonical())
}

/// A host as a name and a port.
fn parted(host: &str, default: u16) -> Option<(&str, u16)> {
    match host.rsplit_once(':') {
        Some((name, digits)) if !digits.ends_with(']') => {
            let is_number = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
            Some((name, digits.parse().ok().filter(|_| is_number)?))
        }
        _ => Some((host, default)),
    }
}

/// Whether a request was asked of this bench by its own pages, or by nobody's.
///
/// # Errors
/// What the sender is told.
pub(crate) fn asked_rightly(
    gate: &Gate,
    method: &Method,
    headers: &HeaderMap,
    here: Option<SocketAddr>,
) -> Result<(), PageError> {
    let mut hosts = headers.get_all(HOST).iter();
    let host = hosts
        .next()
        .and_then(|host| host.to_str().ok())
        .unwrap_or_default();
    if hosts.next().is_some() || !gate.is_own_host(host, here) {
        return Err(PageError::refused(not_own(gate, host)));
    }
    let said = |name: &str| headers.get(name).and_then(|value| value.to_str().ok());
    let own_origin = format!("{}://{host}", gate.scheme());
    let origin = headers.get(ORIGIN).map(HeaderValue::as_bytes);
    let is_foreign =
        origin.is_some_and(|origin| !origin.eq_ignore_ascii_case(own_origin.as_bytes()));
    let site = said("sec-fetch-site");
    let is_of_other_site = site.is_some_and(|site| site != "same-origin" && site != "none");
    let only_reads = method == Method::GET || method == Method::HEAD;
    let is_refused = if only_reads {
        // A link from elsewhere may lead here; a picture or script elsewhere may not be had from here.
        let follows_link = said("sec-fetch-mode").is_none_or(|mode| mode == "navigate");
        is_foreign || (is_of_other_site && !follows_link)
    } else {
        let says_nothing = origin.is_none() && site.is_none_or(|site| site != "same-origin");
        is_foreign || is_of_other_site || (gate.is_network() && says_nothing)
    };
    if is_refused {
        return Err(PageError::refused(
            "The request was sent by a page of another site, or does not say by which, so nothing was recorded. \
             Open this bench itself.",
        ));
    }
    Ok(())
}

fn not_own(gate: &Gate, host: &str) -> String {
    let asked = if host.is_empty() {
        "no name at all"
    } else {
        host
    };
    match gate {
        Gate::Own { .. } => format!(
            "This bench answers only to its own computer, under the names localhost, 127.0.0.1 \
             and [::1]. The request came for {asked}."
        ),
        Gate::Network { .. } => format!(
            "This bench answers only under the addresses and the name of its computer, with https. The request came for {asked}."
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OWN: Gate = Gate::Own { port: Some(7700) };

    fn network() -> Gate {
        Gate::Network {
            names: vec!["bench-2".to_owned(), "bench-2.local".to_owned()],
            port: 7700,
        }
    }

    fn here() -> Option<SocketAddr> {
        Some("192.0.2.7:7700".parse().unwrap())
    }

    fn headers_with(pairs: &[(&'static str, &str)]) -> HeaderMap {
        pairs
            .iter()
            .map(|&(name, value)| (name.parse().unwrap(), value.parse().unwrap()))
            .collect()
    }

    #[test]
    fn loopback_names_with_the_listener_port_are_own() {
        for host in [
            "localhost:7700",
            "127.0.0.1:7700",
            "[::1]:7700",
            "LOCALHOST:7700",
        ] {
            assert!(OWN.is_own_host(host, None), "{host}");
        }
    }

    #[test]
    fn foreign_names_and_ports_are_not_own() {
        for host in [
            "",
            "localhost",
            "localhost:7701",
            "localhost:",
            "localhost:+7700",
            "localhost:x",
            "saltmere.example:7700",
            "127.0.0.1.saltmere.example:7700",
            "127.0.0.2:7700",
            "[::2]:7700",
            "::1:7700",
            "user@localhost:7700",
        ] {
            assert!(!OWN.is_own_host(host, None), "{host}");
            assert!(!network().is_own_host(host, here()), "{host}");
        }
    }

    #[test]
    fn the_default_port_may_be_left_out() {
        let own = Gate::Own { port: Some(80) };
        assert!(own.is_own_host("localhost", None));
        assert!(own.is_own_host("[::1]", None));
    }

    #[test]
    fn over_the_network_it_answers_to_the_address_asked_and_to_its_names() {
        for host in ["192.0.2.7:7700", "bench-2:7700", "BENCH-2.local:7700"] {
            assert!(network().is_own_host(host, here()), "{host}");
        }
        // The address of another computer, or another of this one: not the one that was asked.
        for host in [
            "192.0.2.8:7700",
            "localhost:7700",
            "127.0.0.1:7700",
            "bench-3:7700",
            "192.0.2.7",
        ] {
            assert!(!network().is_own_host(host, here()), "{host}");
        }
        let long = Some("[2001:db8::7]:7700".parse().unwrap());
        assert!(network().is_own_host("[2001:DB8::7]:7700", long));
        assert!(!network().is_own_host("2001:db8::7:7700", long));
        let loopback = Some("127.0.0.1:7700".parse().unwrap());
        assert!(network().is_own_host("localhost:7700", loopback));
        assert!(!network().is_own_host("192.0.2.7:7700", None));
    }

    #[test]
    fn a_form_of_another_site_is_refused() {
        let own = headers_with(&[
            ("host", "localhost:7700"),
            ("origin", "http://localhost:7700"),
        ]);
        assert!(asked_rightly(&OWN, &Method::POST, &own, None).is_ok());
        for origin in [
            "http://saltmere.example",
            "http://localhost:8",
            "https://localhost:7700",
            "null",
        ] {
            let foreign = headers_with(&[("host", "localhost:7700"), ("origin", origin)]);
            for method in [Method::POST, Method::GET, Method::DELETE] {
                assert!(
                    asked_rightly(&OWN, &method, &foreign, None).is_err(),
                    "{origin}"
                );
            }
        }
        let cross = headers_with(&[("host", "localhost:7700"), ("sec-fetch-site", "cross-site")]);
        assert!(asked_rightly(&OWN, &Method::POST, &cross, None).is_err());
        assert!(asked_rightly(&OWN, &Method::GET, &cross, None).is_ok());
    }

    #[test]
    fn a_link_from_elsewhere_is_followed_but_a_picture_is_not_lent() {
        let asked = |mode: &str| {
            let headers = headers_with(&[
                ("host", "localhost:7700"),
                ("sec-fetch-site", "cross-site"),
                ("sec-fetch-mode", mode),
            ]);
            asked_rightly(&OWN, &Method::GET, &headers, None)
        };
        assert!(asked("navigate").is_ok());
        assert!(asked("no-cors").is_err());
    }

    #[test]
    fn a_form_that_does_not_say_where_it_comes_from_is_taken_on_this_computer_only() {
        let silent = headers_with(&[("host", "localhost:7700")]);
        assert!(asked_rightly(&OWN, &Method::POST, &silent, None).is_ok());
        let host = ("host", "192.0.2.7:7700");
        let post = |more: &[(&'static str, &str)]| {
            let mut pairs = vec![host];
            pairs.extend(more);
            asked_rightly(&network(), &Method::POST, &headers_with(&pairs), here())
        };
        assert!(post(&[]).is_err());
        assert!(post(&[("sec-fetch-site", "none")]).is_err());
        assert!(post(&[("sec-fetch-site", "same-site")]).is_err());
        assert!(post(&[("origin", "http://192.0.2.7:7700")]).is_err());
        assert!(post(&[("sec-fetch-site", "same-origin")]).is_ok());
        assert!(post(&[("origin", "https://192.0.2.7:7700")]).is_ok());
    }

    #[test]
    fn two_hosts_are_none() {
        let mut headers = headers_with(&[("host", "localhost:7700")]);
        headers.append(HOST, "saltmere.example".parse().unwrap());
        assert!(asked_rightly(&OWN, &Method::GET, &headers, None).is_err());
    }
}
