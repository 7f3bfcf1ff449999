//! QR codes of specimen codes, against the crate `qrcode`, which follows
//! ISO/IEC 18004.

use kitwright::document::symbol;
use proptest::prelude::*;
use qrcode::{Color, EcLevel, QrCode};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// The same modules, the choice of a mask included.
    #[test]
    fn symbols_are_those_of_the_library(text in "[A-Z0-9-]{1,40}") {
        let theirs = QrCode::with_error_correction_level(&text, EcLevel::Q).unwrap();
        let dark: Vec<bool> =
            theirs.to_colors().iter().map(|color| *color == Color::Dark).collect();
        prop_assert_eq!(symbol(&text, EcLevel::Q).unwrap(), (theirs.width(), dark));
    }
}

#[test]
fn what_is_too_long_is_an_error() {
    assert!(symbol(&"A".repeat(3000), EcLevel::Q).is_err());
}
