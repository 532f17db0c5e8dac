//! Whether a port's device file may be opened by this user, and what to do if not.

/// Whether this user may open a port.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(not(unix), allow(dead_code))] // told by the rights of a device file, which only unix has
pub enum Access {
    /// Yes, as far as the device file says.
    Open,
    /// It is there, but this user may not.
    NotAllowed {
        /// The group that the device file belongs to, if it has a name.
        group: Option<String>,
        /// Whether members of that group may read and write it.
        group_may: bool,
    },
    NotThere,
}

/// What this user may do with the port at `path`.
#[cfg(unix)]
pub(super) fn of(path: &str) -> Access {
    use rustix::fs::{self, Access as Ask};
    use std::os::unix::fs::MetadataExt;

    let Ok(metadata) = std::fs::metadata(path) else {
        return Access::NotThere;
    };
    if fs::access(path, Ask::READ_OK | Ask::WRITE_OK).is_ok() {
        return Access::Open;
    }
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    Access::NotAllowed {
        group: group_name(&groups, metadata.gid()),
        group_may: metadata.mode() & 0o060 == 0o060,
    }
}

/// Elsewhere the system tells only when the port is opened.
#[cfg(not(unix))]
pub(super) fn of(_path: &str) -> Access {
    Access::Open
}

/// Whether the system lists the port without hardware behind it: the kernel's type 0 is an unknown UART.
pub(super) fn is_phantom(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    let kind = std::fs::read_to_string(format!("/sys/class/tty/{name}/type"));
    kind.is_ok_and(|kind| kind.trim() == "0")
}

/// What to do about a port that may not be opened.
pub(super) fn how_to_get_in(path: &str, access: &Access) -> String {
    match access {
        Access::NotAllowed {
            group: Some(group),
            group_may: true,
        } => format!(
            "{path} belongs to the group {group}: run `sudo usermod -aG {group} $USER`, then log out and in again \
             (a new terminal is not enough)"
        ),
        Access::NotAllowed { group, .. } => format!(
            "{path} is open to its owner only{}: run `sudo chmod a+rw {path}` for now, and ask who looks after this \
             computer for a lasting rule",
            match group {
                Some(group) => format!(" (group {group})"),
                None => String::new(),
            }
        ),
        Access::Open => format!("{path} may be opened: try again"),
        Access::NotThere => {
            format!("{path} is not there: plug the board in and look with `pedalproof ports`")
        }
    }
}

/// The name of a group in the text of `/etc/group`.
#[cfg(unix)]
fn group_name(groups: &str, gid: u32) -> Option<String> {
    groups.lines().find_map(|line| {
        let mut parts = line.split(':');
        let name = parts.next()?;
        let number: u32 = parts.nth(1)?.parse().ok()?;
        (number == gid).then(|| name.to_owned())
    })
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn groups_by_number() {
        let groups = "root:x:0:\nbroken\ntty:x:5:\ndialout:x:20:ann,bob\n";
        assert_eq!(group_name(groups, 20).as_deref(), Some("dialout"));
        assert_eq!(group_name(groups, 0).as_deref(), Some("root"));
        assert_eq!(group_name(groups, 6), None);
        assert_eq!(group_name("", 0), None);
    }

    #[test]
    fn the_command_that_helps() {
        let by_group = Access::NotAllowed {
            group: Some("uucp".to_owned()),
            group_may: true,
        };
        let advice = how_to_get_in("/dev/ttyUSB0", &by_group);
        assert!(
            advice.contains("sudo usermod -aG uucp $USER") && advice.contains("log out and in"),
            "{advice}"
        );
        // A group that may not do it either is no help.
        let by_owner = Access::NotAllowed {
            group: Some("root".to_owned()),
            group_may: false,
        };
        let advice = how_to_get_in("/dev/ttyS0", &by_owner);
        assert!(
            !advice.contains("usermod") && advice.contains("chmod a+rw /dev/ttyS0"),
            "{advice}"
        );
    }

    #[test]
    fn there_and_not_there() {
        assert_eq!(of("/dev/null"), Access::Open);
        assert_eq!(of("/dev/no such port"), Access::NotThere);
        assert!(!is_phantom("/dev/no such port"));
    }
}
