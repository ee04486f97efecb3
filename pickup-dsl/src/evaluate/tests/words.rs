//! The coils in play, in words.

use super::outlets;
use crate::figures::words::words;

const PLUG: &str = "cable 500pF\namp 1M\n";

/// Words of each position of a text.
fn said(text: &str) -> Vec<String> {
    outlets(&format!("{PLUG}{text}")).iter().map(words).collect()
}

const TWO_COILS: &str = "pickup neck {\n coil slug 4k 2.2H 90pF, pole south\n coil screw 4.1k 2.3H 90pF\n}\n";

#[test]
fn coils_of_one_pickup() {
    let text = format!(
        "{TWO_COILS}resistor R1 2k2\nswitch mode {{\n lugs (mid ground bleed)\n throw full\n throw split joins (mid ground)\n \
         throw part joins (mid bleed)\n}}\nwire neck.slug.start to out.tip\nwire neck.slug.finish to neck.screw.finish to mode.mid\n\
         wire neck.screw.start to out.sleeve to mode.ground to R1.1\nwire R1.2 to mode.bleed"
    );
    assert_eq!(
        said(&text),
        [
            "slug + screw in series",
            "slug alone (screw shorted)",
            "slug + screw in series (screw bled through 2.2 kΩ)",
        ]
    );
}

#[test]
fn several_pickups() {
    let text = format!(
        "{TWO_COILS}coil bridge 6k 2.5H 100pF\nswitch sel is toggle-3\nwire neck.slug.start to sel.up\n\
         wire neck.slug.finish to neck.screw.finish\nwire neck.screw.start to out.sleeve to bridge.finish\n\
         wire bridge.start to sel.down\nwire sel.common to out.tip"
    );
    assert_eq!(
        said(&text),
        ["neck: slug + screw in series", "neck (slug + screw) ∥ bridge, out of phase", "bridge alone"]
    );
}

#[test]
fn a_dummy_in_series_does_not_sound() {
    let text = "coil lead 6k 2.5H\ncoil other 5k 1H, dummy\nwire lead.start to out.tip\nwire lead.finish to other.start\n\
                wire other.finish to out.sleeve";
    assert_eq!(said(text), ["lead alone"]);
    let inside = TWO_COILS.replace("coil screw 4.1k 2.3H 90pF", "coil screw 4.1k 2.3H 90pF, dummy");
    let text = format!(
        "{inside}wire neck.slug.start to out.tip\nwire neck.slug.finish to neck.screw.finish\nwire neck.screw.start to out.sleeve"
    );
    assert_eq!(said(&text), ["slug alone (screw in series, not sounding)"]);
}
