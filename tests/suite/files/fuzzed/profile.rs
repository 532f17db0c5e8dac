//! The profile reader: what it takes is written and taken again as the same, and can be explained.

use pedalproof::profile::Profile;
use pedalproof::report;

pub fn check(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let Ok(profile) = Profile::from_json(text) else {
        return;
    };
    assert!(profile.supply_mv.is_finite() && profile.supply_mv > 0.0);
    assert!(profile.stop_within_ms.is_finite() && profile.stop_within_ms > 0.0);
    assert!((1..=2).contains(&profile.tracks.len()));
    assert!(profile.pair.is_none() || profile.tracks.len() == 2);
    let parts = profile.tracks.values().map(|part| &part.limits);
    for limit in parts
        .chain(profile.pair.iter().map(|pair| &pair.limits))
        .flat_map(|l| l.values())
    {
        assert!(limit.min().is_some() || limit.max().is_some());
        if let (Some(min), Some(max)) = (limit.min(), limit.max()) {
            assert!(min <= max, "{min} {max}");
        }
    }
    for wiring in profile.tracks.values().filter_map(|part| part.wiring) {
        wiring.check().expect("a wiring that was read can be");
    }
    let written = profile.to_json();
    let again = Profile::from_json(&written).expect("what was written is read");
    assert_eq!(again, profile);
    assert_eq!(again.to_json(), written);
    let explained = report::profile(&profile).text();
    assert!(explained.ends_with('\n'));
    assert_eq!(
        profile.control_wiring(10).tracks.len(),
        profile
            .tracks
            .values()
            .filter(|part| part.wiring.is_some())
            .count()
    );
}
