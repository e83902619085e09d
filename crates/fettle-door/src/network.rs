//! This computer's names and addresses on its network.

use std::net::IpAddr;

/// The addresses under which others in the network reach this computer, the likeliest first.
#[must_use]
pub fn network_addresses() -> Vec<IpAddr> {
    let found = if_addrs::get_if_addrs().unwrap_or_default();
    let mut addresses: Vec<IpAddr> = found
        .iter()
        .map(if_addrs::Interface::ip)
        .filter(|address| !address.is_loopback() && can_be_typed(*address))
        .collect();
    addresses.sort_by_key(|address| (rank(*address), *address));
    addresses.dedup();
    addresses
}

/// An address that needs the name of an interface with it cannot stand in a browser's line.
fn can_be_typed(address: IpAddr) -> bool {
    match address {
        IpAddr::V4(four) => !four.is_unspecified(),
        IpAddr::V6(six) => !six.is_unicast_link_local() && !six.is_unspecified(),
    }
}

fn rank(address: IpAddr) -> u8 {
    match address {
        IpAddr::V4(four) if four.is_link_local() => 2,
        IpAddr::V4(four) if four.is_private() => 0,
        IpAddr::V4(_) => 1,
        IpAddr::V6(_) => 3,
    }
}

/// What this computer is called in its network: `name` and `name.local`; nothing when its name is none that an address can have.
#[must_use]
pub fn host_names() -> Vec<String> {
    names_of(&gethostname::gethostname().to_string_lossy())
}

fn names_of(host: &str) -> Vec<String> {
    let host = host.trim_end_matches('.').to_ascii_lowercase();
    let label = |part: &str| {
        let inside = |b: u8| b.is_ascii_alphanumeric() || b == b'-';
        (1..=63).contains(&part.len())
            && part.bytes().all(inside)
            && !part.starts_with('-')
            && !part.ends_with('-')
    };
    let is_number = host.parse::<IpAddr>().is_ok();
    if host == "localhost" || host.len() > 200 || is_number || !host.split('.').all(label) {
        return Vec::new();
    }
    let first = host.split('.').next().unwrap_or_default();
    let mut names = vec![host.clone(), format!("{first}.local")];
    names.dedup();
    names
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_host_is_called_by_its_name_and_by_its_name_in_the_house() {
        assert_eq!(names_of("Bench-2"), ["bench-2", "bench-2.local"]);
        assert_eq!(
            names_of("bench.saltmere.example"),
            ["bench.saltmere.example", "bench.local"]
        );
        assert_eq!(names_of("bench.local"), ["bench.local"]);
    }

    #[test]
    fn what_no_address_can_have_is_no_name() {
        for host in [
            "",
            "localhost",
            "a b",
            "-a",
            "a..b",
            "bänk",
            "192.0.2.1",
            &"a".repeat(64),
        ] {
            assert!(names_of(host).is_empty(), "{host}");
        }
    }

    #[test]
    fn private_addresses_stand_before_others() {
        let mut found: Vec<IpAddr> = ["2001:db8::1", "198.51.100.7", "169.254.1.1", "192.168.1.5"]
            .iter()
            .map(|text| text.parse().unwrap())
            .collect();
        found.sort_by_key(|address| (rank(*address), *address));
        assert_eq!(found[0].to_string(), "192.168.1.5");
        assert_eq!(found[3].to_string(), "2001:db8::1");
        assert!(!can_be_typed("fe80::1".parse().unwrap()));
    }
}
