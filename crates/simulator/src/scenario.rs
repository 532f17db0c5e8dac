//! Ready units of DESIGN section 6: the controls of an invented narrow-gauge line's trolleys.

use super::board::Board;
use super::control::{Control, Returning, Spring};
use super::defects::{Drop, Lift, Loose, Rail, Wear};
use super::network::Sensor;
use super::run::SimUnit;
use super::script::{Card, ReturnBy, Script};

/// Every ready unit: name and a word about it.
pub const SCENARIO_UNITS: [(&str, &str); 7] = [
    ("T1-pedal", "foot pedal, hall, two tracks: as it should be"),
    ("T2-pedal", "foot pedal, new: sticky return"),
    (
        "T1-dial",
        "speed-limit dial, rheostat with pull-up: as it should be",
    ),
    ("T4-dial", "speed-limit dial: loose wiper"),
    (
        "T1-lever",
        "shunting lever, three-wire potentiometer: as it should be",
    ),
    ("T2-lever", "shunting lever: outer wires swapped"),
    ("T3-lever", "shunting lever: worn track"),
];

/// Ready units whose world answers to a trial: what the person is asked in it is done.
pub const TRIAL_UNITS: [(&str, &str); 1] = [(
    "T2-dial",
    "speed-limit dial: its plug loses contact when it is moved",
)];

/// A ready unit with a whole card as its script, repeated for ever; none by another name.
#[must_use]
pub fn scenario(name: &str) -> Option<SimUnit> {
    let (control, return_by) = match name {
        "T1-pedal" => (pedal(0.0004), ReturnBy::Spring),
        "T2-pedal" => (sticky_pedal(), ReturnBy::Spring),
        "T1-dial" => (dial(), ReturnBy::Hand(0.35)),
        "T4-dial" => (loose_dial(), ReturnBy::Hand(0.35)),
        "T2-dial" => (loose_plug(), ReturnBy::Hand(0.35)),
        "T1-lever" => (lever(), ReturnBy::Spring),
        "T2-lever" => (swapped_lever(), ReturnBy::Spring),
        "T3-lever" => (worn_lever(), ReturnBy::Spring),
        _ => return None,
    };
    let mut card = Card {
        return_by,
        ..Card::default()
    };
    if name == "T2-lever" {
        card.rest_s = 8.5; // whoever is told "let it go; if you have, wait" waits
    }
    if name == "T2-dial" {
        // The cable is moved right behind the strokes, while the card looks at that.
        (card.strokes, card.returns, card.shake_s) = (4, 0, 20.0);
    }
    if control
        .channels
        .iter()
        .any(|channel| channel.hysteresis_pct > 0.0)
    {
        card.tremor = 0.0; // friction holds it still; slack would keep the tremor's peak
    }
    Some(SimUnit {
        tag: name.to_owned(),
        control: Control {
            serial: serial(name),
            ..control
        },
        board: Board::default(),
        script: card.script(),
    })
}

/// The same unit with another script.
#[must_use]
pub fn with_script(unit: SimUnit, script: Script) -> SimUnit {
    SimUnit { script, ..unit }
}

/// A serial number out of the name (FNV-1a), so that each unit has a track surface of its own.
fn serial(name: &str) -> u64 {
    name.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

fn pedal(return_sd: f64) -> Control {
    let mut control = Control {
        spring: Spring {
            tau_s: 0.06,
            bounce: 0.004,
        },
        returning: Returning::Travel {
            mean: 0.0,
            sd: return_sd,
        },
        ..Control::hall_pedal(0.75)
    };
    for channel in &mut control.channels {
        channel.curve = super::control::Curve::Bow(0.4);
    }
    control
}

fn sticky_pedal() -> Control {
    Control {
        spring: Spring {
            tau_s: 0.18,
            bounce: 0.0,
        },
        returning: Returning::Travel {
            mean: 0.02,
            sd: 0.018,
        },
        ..pedal(0.0)
    }
}

fn dial() -> Control {
    Control {
        returning: Returning::Travel {
            mean: 0.0,
            sd: 0.0008,
        },
        ..Control::dial(0.7)
    }
}

fn loose_plug() -> Control {
    let mut control = dial();
    for channel in &mut control.channels {
        channel.loose = Some(Loose {
            rate_per_s: 4.0,
            drop: Drop {
                duration_ms: 9.0,
                ..Drop::to_the(Rail::Supply, 6.0)
            },
        });
    }
    control
}

fn loose_dial() -> Control {
    let mut control = dial();
    let open = Drop::to_the(Rail::Supply, 6.0);
    for channel in &mut control.channels {
        channel.lifts.push(Lift {
            travel: 0.62,
            width: 0.03,
            probability: 0.45,
            drop: open,
        });
        channel.loose = Some(Loose {
            rate_per_s: 1.5,
            drop: Drop {
                duration_ms: 9.0,
                ..open
            },
        });
    }
    control
}

fn lever() -> Control {
    let mut control = Control {
        spring: Spring {
            tau_s: 0.09,
            bounce: 0.0,
        },
        returning: Returning::Travel {
            mean: 0.0,
            sd: 0.0008,
        },
        ..Control::lever(0.7)
    };
    for channel in &mut control.channels {
        channel.hysteresis_pct = 0.3;
    }
    control
}

/// With its outer wires swapped the track is gone along from its other end.
fn swapped_lever() -> Control {
    let mut control = lever();
    for channel in &mut control.channels {
        if let Sensor::Potentiometer {
            rest_at, full_at, ..
        } = &mut channel.network.sensor
        {
            std::mem::swap(rest_at, full_at);
        }
    }
    control
}

/// Worn but never open: bumps of six deviations stay below 2 % of span, where a dropout begins.
fn worn_lever() -> Control {
    let mut control = lever();
    for channel in &mut control.channels {
        channel.wear = vec![
            Wear {
                from: 0.30,
                to: 0.41,
                rms_code: 2.6,
                pattern_share: 0.4,
            },
            Wear {
                from: 0.72,
                to: 0.76,
                rms_code: 2.2,
                pattern_share: 0.4,
            },
        ];
    }
    control
}
