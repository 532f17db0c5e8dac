//! Which ports could be a board, best first, and whether they may be opened.
//!
//! Belongs here: the list, its order, and the words for an empty one. Does not belong here: opening a port.

mod access;
mod rates;
mod serial;

pub use access::Access;
pub(super) use rates::is_text;
pub use serial::{SerialSettings, SerialSource, WhenLost};

use super::LinkError;
use serialport::{SerialPortInfo, SerialPortType, UsbPortInfo};

/// USB vendor numbers of bridge chips and boards commonly seen on benches. Common practice, no source; a vendor that
/// is not here only sorts later.
const KNOWN_VENDORS: [u16; 11] = [
    0x0403, 0x0483, 0x067b, 0x10c4, 0x16c0, 0x1a86, 0x2341, 0x239a, 0x2a03, 0x2e8a, 0x303a,
];

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Attachment {
    Usb {
        vendor: u16,
        product: u16,
        /// What the device calls itself, if it says so.
        name: Option<String>,
        /// Its serial number, if it says so.
        serial: Option<String>,
    },
    Wireless,
    /// A port of the computer itself.
    BuiltIn,
    /// A port that the system lists without any hardware behind it.
    Phantom,
}

/// A port that could be a board.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Candidate {
    pub path: String,
    pub attachment: Attachment,
    pub access: Access,
}

impl Candidate {
    /// What it is, in words: `USB 2341:0043 Bench Board, serial 7543`.
    pub fn describe(&self) -> String {
        match &self.attachment {
            Attachment::Usb {
                vendor,
                product,
                name,
                serial,
            } => {
                let mut words = format!("USB {vendor:04x}:{product:04x}");
                if let Some(name) = name {
                    words.push(' ');
                    words.push_str(name);
                }
                if let Some(serial) = serial {
                    words.push_str(", serial ");
                    words.push_str(serial);
                }
                words
            }
            Attachment::Wireless => "wireless".to_owned(),
            Attachment::BuiltIn => "built-in port".to_owned(),
            Attachment::Phantom => "listed, but no hardware behind it".to_owned(),
        }
    }

    pub fn is_phantom(&self) -> bool {
        self.attachment == Attachment::Phantom
    }

    /// Order in the list: lower is likelier to be a board.
    fn rank(&self) -> u8 {
        match &self.attachment {
            Attachment::Usb { vendor, .. } if KNOWN_VENDORS.contains(vendor) => 0,
            Attachment::Usb { .. } => 1,
            Attachment::Wireless => 2,
            Attachment::BuiltIn => 3,
            Attachment::Phantom => 4,
        }
    }
}

/// Ports that could be a board, best first. Pseudo-terminals are not listed: who makes one knows its path.
pub fn candidates() -> Result<Vec<Candidate>, LinkError> {
    // Without this directory (a container) the library would panic instead of giving none.
    if cfg!(target_os = "linux") && !std::path::Path::new("/sys/class/tty").is_dir() {
        return Ok(Vec::new());
    }
    let infos = serialport::available_ports().map_err(|error| LinkError {
        what: format!("the system does not list its serial ports: {error}"),
        next: "name the port yourself with --port".to_owned(),
    })?;
    Ok(sort(infos, access::of, access::is_phantom))
}

/// What to do about a list in which nothing may be opened; `None` when something may.
pub fn advice(candidates: &[Candidate]) -> Option<String> {
    let real = |c: &&Candidate| c.attachment != Attachment::Phantom;
    if candidates
        .iter()
        .any(|c| real(&c) && c.access == Access::Open)
    {
        return None;
    }
    let mut shut = candidates.iter().filter(real);
    let shut = shut.find(|c| c.access != Access::Open);
    Some(match shut {
        Some(candidate) => {
            let mut words = access::how_to_get_in(&candidate.path, &candidate.access);
            if let Some(rule) = lasting_rule(candidate).filter(|_| cfg!(target_os = "linux")) {
                words.push_str(&rule);
            }
            words
        }
        None => "no port that could be a board. Is the board plugged in, is its cable one that carries data (not \
                 only charging), is its power light on? Then look again: pedalproof ports"
            .to_owned(),
    })
}

/// A udev rule that lets whoever sits at this computer open the board, for devices that no group opens; `None` for others.
/// `uaccess` is the tag of systemd-logind for that; such a rule must sort before 73-seat-late.rules.
fn lasting_rule(candidate: &Candidate) -> Option<String> {
    let Attachment::Usb {
        vendor, product, ..
    } = &candidate.attachment
    else {
        return None;
    };
    match &candidate.access {
        Access::NotAllowed {
            group: Some(_),
            group_may: true,
        }
        | Access::Open
        | Access::NotThere => None,
        Access::NotAllowed { .. } => Some(format!(
            "\nA lasting rule: write this line into /etc/udev/rules.d/70-pedalproof.rules\n  SUBSYSTEM==\"tty\", \
             ATTRS{{idVendor}}==\"{vendor:04x}\", ATTRS{{idProduct}}==\"{product:04x}\", TAG+=\"uaccess\"\nthen run \
             `sudo udevadm control --reload` and plug the board in again"
        )),
    }
}

fn sort(
    infos: Vec<SerialPortInfo>,
    access: impl Fn(&str) -> Access,
    phantom: impl Fn(&str) -> bool,
) -> Vec<Candidate> {
    let attachment = |info: &SerialPortInfo| match &info.port_type {
        SerialPortType::UsbPort(usb) => from_usb(usb),
        SerialPortType::BluetoothPort => Attachment::Wireless,
        SerialPortType::PciPort | SerialPortType::Unknown if phantom(&info.port_name) => {
            Attachment::Phantom
        }
        SerialPortType::PciPort | SerialPortType::Unknown => Attachment::BuiltIn,
    };
    let mut list: Vec<Candidate> = infos
        .into_iter()
        .map(|info| Candidate {
            attachment: attachment(&info),
            access: access(&info.port_name),
            path: info.port_name,
        })
        .collect();
    list.sort_by_cached_key(|c| (c.rank(), natural(&c.path)));
    list
}

fn from_usb(usb: &UsbPortInfo) -> Attachment {
    let said = |text: &Option<String>| text.clone().filter(|t| !t.trim().is_empty());
    Attachment::Usb {
        vendor: usb.vid,
        product: usb.pid,
        name: said(&usb.product).or_else(|| said(&usb.manufacturer)),
        serial: said(&usb.serial_number),
    }
}

/// A key that sorts `ttyUSB2` before `ttyUSB10`.
fn natural(path: &str) -> (String, u64) {
    let stem = path.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = path[stem.len()..].parse().unwrap_or(0);
    (stem.to_owned(), number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str, port_type: SerialPortType) -> SerialPortInfo {
        SerialPortInfo {
            port_name: path.to_owned(),
            port_type,
        }
    }

    fn usb(vid: u16, product: Option<&str>) -> SerialPortType {
        SerialPortType::UsbPort(UsbPortInfo {
            vid,
            pid: 0x43,
            serial_number: Some("75".to_owned()),
            manufacturer: Some(String::new()),
            product: product.map(str::to_owned),
        })
    }

    fn shut() -> Access {
        Access::NotAllowed {
            group: Some("dialout".to_owned()),
            group_may: true,
        }
    }

    #[test]
    fn best_first() {
        let infos = vec![
            port("/dev/ttyS10", SerialPortType::Unknown),
            port("/dev/ttyS2", SerialPortType::Unknown),
            port("/dev/ttyS0", SerialPortType::PciPort),
            port("/dev/rfcomm0", SerialPortType::BluetoothPort),
            port("/dev/ttyACM9", usb(0x1234, None)),
            port("/dev/ttyUSB10", usb(0x0403, None)),
            port("/dev/ttyUSB2", usb(0x0403, Some("Bench Bridge"))),
        ];
        let phantom = |path: &str| path != "/dev/ttyS0";
        let list = sort(infos, |_| Access::Open, phantom);
        let order: Vec<_> = list.iter().map(|c| c.path.as_str()).collect();
        assert_eq!(
            order,
            [
                "/dev/ttyUSB2",
                "/dev/ttyUSB10",
                "/dev/ttyACM9",
                "/dev/rfcomm0",
                "/dev/ttyS0",
                "/dev/ttyS2",
                "/dev/ttyS10",
            ]
        );
        assert_eq!(list[0].describe(), "USB 0403:0043 Bench Bridge, serial 75");
        assert_eq!(list[2].describe(), "USB 1234:0043, serial 75");
        assert_eq!(advice(&list), None);
    }

    #[test]
    fn there_but_not_allowed_is_not_the_same_as_not_there() {
        let none = advice(&[]).unwrap();
        assert!(none.contains("plugged in"), "{none}");
        let infos = vec![port("/dev/ttyACM0", usb(0x2341, None))];
        let list = sort(infos, |_| shut(), |_| false);
        let message = advice(&list).unwrap();
        assert!(message.contains("usermod -aG dialout"), "{message}");
        // Only a phantom: nothing is there.
        let infos = vec![port("/dev/ttyS3", SerialPortType::Unknown)];
        let list = sort(infos, |_| shut(), |_| true);
        assert_eq!(advice(&list).unwrap(), none);
    }

    #[test]
    fn a_lasting_rule_names_the_board_where_no_group_helps() {
        let by_owner = || Access::NotAllowed {
            group: Some("root".to_owned()),
            group_may: false,
        };
        let infos = vec![port("/dev/ttyACM0", usb(0x2341, None))];
        let list = sort(infos, |_| by_owner(), |_| false);
        let message = lasting_rule(&list[0]).unwrap();
        let rule = "SUBSYSTEM==\"tty\", ATTRS{idVendor}==\"2341\", ATTRS{idProduct}==\"0043\", TAG+=\"uaccess\"";
        assert!(message.contains(rule), "{message}");
        let infos = vec![port("/dev/ttyACM0", usb(0x2341, None))];
        assert_eq!(lasting_rule(&sort(infos, |_| shut(), |_| false)[0]), None);
        let infos = vec![port("/dev/ttyS0", SerialPortType::PciPort)];
        assert_eq!(
            lasting_rule(&sort(infos, |_| by_owner(), |_| false)[0]),
            None
        );
    }

    #[test]
    fn the_list_of_this_machine_can_be_had() {
        candidates().unwrap();
    }
}
