//! Logos: what an SVG file can hold beside a drawing.

use crate::bench::{Bench, Ended};
use crate::common::{LAB, order_text};

const START: &str = "<svg xmlns=\"http://www.w3.org/2000/svg\" \
                     xmlns:xlink=\"http://www.w3.org/1999/xlink\" viewBox=\"0 0 48 24\">\n";

fn made_with(why: &str, logo: impl AsRef<[u8]>) -> Ended {
    let bench = Bench::new();
    bench.write("lab.toml", format!("logo = \"logo.svg\"\n{LAB}"));
    bench.write("order.toml", order_text(""));
    bench.write("logo.svg", logo);
    bench.make(why, &[])
}

/// A logo with `inner` on its second line.
fn made(why: &str, inner: &str) -> Ended {
    made_with(why, format!("{START}{inner}\n</svg>"))
}

#[test]
fn a_drawing_of_plain_shapes_is_printed() {
    for (why, inner) in [
        ("a path", "<path d=\"M2 20h44\" stroke=\"#000\"/>"),
        (
            "a gradient",
            "<defs><linearGradient id=\"a\"><stop offset=\"0\"/><stop offset=\"1\" \
         stop-color=\"#888\"/></linearGradient></defs><rect width=\"9\" height=\"9\" \
         fill=\"url(#a)\"/>",
        ),
        (
            "a style sheet",
            "<style>.a { fill: url(#g) }</style><defs><radialGradient \
         id=\"g\"><stop offset=\"1\"/></radialGradient></defs><circle r=\"9\" class=\"a\"/>",
        ),
        (
            "a mask and a clip",
            "<mask id=\"m\"><circle r=\"9\" fill=\"#fff\"/></mask>\
         <clipPath id=\"c\"><rect width=\"9\" height=\"9\"/></clipPath>\
         <g mask=\"url(#m)\" clip-path='url(\"#c\")'><ellipse rx=\"9\" ry=\"4\"/></g>",
        ),
        (
            "what is used twice",
            "<defs><g id=\"a\"><line x2=\"9\" stroke=\"#000\"/></g></defs>\
         <use xlink:href=\"#a\"/><use href=\"#a\" y=\"5\"/>",
        ),
        (
            "an editor's notes",
            "<metadata><x:RDF xmlns:x=\"urn:x\"><x:a/></x:RDF></metadata>\
         <title>Harbor</title><desc>A bridge</desc>",
        ),
        ("nothing", ""),
    ] {
        made(why, inner).with(0, &["1 kit proven and written"]);
    }
    made_with(
        "a mark and a declaration",
        format!("\u{FEFF}<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{START}</svg>"),
    )
    .with(0, &["1 kit proven"]);
}

#[test]
fn what_fetches_runs_or_writes_is_refused_with_its_line() {
    for (what, inner, says) in [
        ("script", "<script>alert(1)</script>", "the logo has a <script>"),
        ("event", "<path onload=\"x()\" d=\"M0 0h9\"/>", "a script, `onload`"),
        ("text", "<text y=\"9\">07:30</text>", "the logo has a <text>"),
        (
            "image",
            "<image href=\"data:image/png;base64,AAAA\"/>",
            "the logo has a <image>",
        ),
        ("file", "<image href=\"file:///etc/passwd\"/>", "`file:///etc/passwd`, outside"),
        ("page", "<foreignObject/>", "the logo has a <foreignObject>"),
        (
            "filter",
            "<filter id=\"f\" width=\"99999\" height=\"99999\"/>",
            "has a <filter>",
        ),
        (
            "pattern",
            "<pattern id=\"p\" width=\"0.001\" height=\"0.001\"/>",
            "a <pattern>",
        ),
        ("marker", "<marker id=\"m\"/>", "the logo has a <marker>"),
        ("movement", "<animate/>", "the logo has a <animate>"),
        ("font", "<font-face/>", "the logo has a <font-face>"),
        ("link", "<a href=\"https://example.org/\"/>", "`https://example.org/`, outside"),
        ("use", "<use href=\"other.svg#a\"/>", "refers to `other.svg#a`, outside of it"),
        (
            "paint",
            "<path fill=\"URL( 'http://example.org/x#a' )\"/>",
            "x#a`, outside of it",
        ),
        (
            "style",
            "<path style=\"clip-path: url(x.svg#a)\"/>",
            "`x.svg#a`, outside of it",
        ),
        ("sheet", "<style>@import 'x.css';</style>", "a style sheet that is fetched"),
        ("sheet", "<style>a { mask: url(//x/y) }</style>", "`//x/y`, outside of it"),
        ("gone", "<use href=\"#a\"/>", "refers to `#a`, which is not in it"),
        (
            "a rule for all",
            "<style>* { clip-path: url(#c) }</style><clipPath id=\"c\"/>",
            "a style that refers to `#c`",
        ),
    ] {
        made(what, inner).refused(&[says, "logo.svg:2:1"]);
    }
    // All at once, each where it stands.
    made("several", "<script/>\n<path d=\"M0 0h9\"/>\n<image href=\"x.png\"/>").refused(
        &[
            "<script>",
            "logo.svg:2:1",
            "<image>",
            "`x.png`, outside of it",
            "logo.svg:4:1",
        ],
    );
}

#[test]
fn what_grows_is_refused_before_it_does() {
    let ten = |of: &str, id: &str| {
        let uses = format!("<use href=\"#{of}\"/>").repeat(10);
        format!("<g id=\"{id}\">{uses}</g>\n")
    };
    let mut billion = "<defs><g id=\"a0\"><path d=\"M0 0h9\"/></g>\n".to_owned();
    for step in 1..10 {
        billion += &ten(&format!("a{}", step - 1), &format!("a{step}"));
    }
    made("a billion", &(billion + "</defs><use href=\"#a9\"/>"))
        .refused(&["draws more than 20000 elements", "logo.svg:1:1"]);

    let chain: String = (0..150)
        .map(|step| format!("<use id=\"a{step}\" href=\"#a{}\"/>\n", step + 1))
        .collect();
    made("a chain", &(chain + "<path id=\"a150\"/>"))
        .refused(&["references that lead on more than 64 deep"]);

    made("a ring", "<use id=\"a\" href=\"#b\"/><g id=\"b\"><use href=\"#a\"/></g>")
        .refused(&["refers back to itself", "logo.svg:2"]);
    made("itself", "<g id=\"a\" mask=\"url(#a)\"/>")
        .refused(&["has a <g> that refers back to itself"]);

    let inner = format!("{}{}", "<g>".repeat(9_000), "</g>".repeat(9_000));
    made("deep", &inner).refused(&["the logo has more than 2000 elements"]);
    let inner = format!("{}{}", "<g>".repeat(60), "</g>".repeat(60));
    made("less deep", &inner).refused(&["in each other, more than 32 deep"]);
    made("many", &"<g/>".repeat(15_000)).refused(&["has more than 2000 elements"]);
    made("many", &"<g/>".repeat(2_500)).refused(&["2501 elements, more than 2000"]);
    made("large", &"<g/>".repeat(20_000)).refused(&["is larger than 64 kB"]);
}

/// The billion laughs are of entities; XML 1.0, section 4.
#[test]
fn a_document_type_is_refused() {
    let laughs: String = (1..10)
        .map(|step| {
            let inner = format!("&a{};", step - 1).repeat(10);
            format!("<!ENTITY a{step} \"{inner}\">\n")
        })
        .collect();
    for (why, head, body) in [
        ("laughs", format!("<!DOCTYPE svg [<!ENTITY a0 \"ha\">\n{laughs}]>"), "&a9;"),
        (
            "a file",
            "<!DOCTYPE svg [<!ENTITY a SYSTEM \"file:///etc/passwd\">]>".into(),
            "&a;",
        ),
        ("a page", "<!DOCTYPE svg SYSTEM \"http://example.org/x.dtd\">".into(), ""),
    ] {
        made_with(why, format!("{head}\n{START}{body}</svg>"))
            .refused(&["the logo has a document type declaration", "logo.svg:1:1"]);
    }
    made("an entity of nobody's", "&nobody;").refused(&["the logo is not SVG", "svg:2"]);
}

#[test]
fn a_logo_that_is_no_svg_is_refused() {
    let zipped = {
        // A member of gzip (RFC 1952) whose blocks of zeros go on for 64 kB.
        let mut bytes = vec![0x1F, 0x8B, 8, 0, 0, 0, 0, 0, 0, 3];
        bytes.resize(64 * 1024, 0);
        bytes
    };
    made_with("packed", zipped)
        .refused(&["logo.svg is compressed", "save it as plain SVG"]);
    made_with("bytes", vec![0xFF; 99]).refused(&["logo.svg is not UTF-8 text"]);
    made_with("empty", "").refused(&["the logo is not SVG"]);
    made_with("a page", "<html/>").refused(&["begins with <html> and is not SVG"]);
    made_with("no namespace", "<svg viewBox=\"0 0 9 9\"/>").refused(&["is not SVG"]);
    made_with("half", START).refused(&["the logo is not SVG"]);
}

#[test]
fn a_logo_that_is_no_size_for_a_logo_is_refused() {
    let with = |why: &str, size: &str| {
        made_with(why, format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {size}/>"))
    };
    for (why, size) in [
        ("wide", "viewBox=\"0 0 1000 1\""),
        ("high", "viewBox=\"0 0 1 1000\""),
        ("large", "viewBox=\"0 0 1e30 1e30\""),
        ("small", "viewBox=\"0 0 1e-30 1e-30\""),
        ("negative", "width=\"-5\" height=\"-5\""),
        ("unlike", "width=\"1m\" height=\"20mm\" viewBox=\"0 0 1 99\""),
        ("units", "width=\"200cm\" height=\"1mm\""),
    ] {
        with(why, size).refused(&["the logo is ", "wide and", "logo.svg:1:1"]);
    }
    with("none", "").refused(&["the logo does not say how large it is"]);
    with("endless", "width=\"inf\" height=\"inf\"").refused(&["how large it is"]);
    with("shares", "width=\"100%\" height=\"100%\"").refused(&["how large it is"]);
    with("both", "width=\"100%\" height=\"100%\" viewBox=\"0 0 9 9\"")
        .with(0, &["1 kit"]);
}

#[test]
fn numbers_without_measure_in_a_logo_end_with_a_word() {
    for (why, inner) in [
        ("a point", "<path d=\"M1e38 1e38\"/>"),
        ("a circle", "<circle r=\"1e38\"/>"),
        ("a style", "<path d=\"M0 0h9\" style=\"stroke-width:9999999\"/>"),
        ("no end", "<path d=\"M0 0h1e999\"/>"),
        ("run together", "<path d=\"M1.5-2e7.5\"/>"),
    ] {
        made(why, inner).refused(&["the logo has the number ", "logo.svg:2:1"]);
    }
    made(
        "moved",
        "<g transform=\"scale(1e4)\"><g transform=\"matrix(1e4 0 0 1 0 0)\"/></g>",
    )
    .refused(&["made more than ten times larger 6 times over"]);
    made(
        "slanted",
        &format!("{}{}", "<g transform=\"skewX(89)\">".repeat(9), "</g>".repeat(9)),
    )
    .refused(&["made more than ten times larger 6 times over"]);
    for (why, inner) in [
        ("far off", "<path d=\"M1e6 1e6L-1e6 1e6\" stroke=\"#000\"/>"),
        ("no numbers", "<path d=\"MNaN infL0 0\" stroke=\"#000\"/>"),
        ("thick", "<path d=\"M0 0h9\" stroke=\"#000\" stroke-width=\"1e6\"/>"),
        ("dashes", "<path d=\"M0 0h1e6\" stroke=\"#000\" stroke-dasharray=\"1e-6\"/>"),
        ("moved", "<g transform=\"scale(1e6)\"><rect width=\"9\" height=\"9\"/></g>"),
        ("flat", "<g transform=\"scale(0)\"><rect width=\"9\" height=\"9\"/></g>"),
        ("round", "<circle r=\"1e6\"/><ellipse rx=\"-1\" ry=\"NaN\"/>"),
        ("a long path", &format!("<path d=\"M0 0{}\"/>", "h1v1".repeat(15_000))),
        (
            "a gradient",
            "<linearGradient id=\"a\" x2=\"1e6\" gradientTransform=\"scale(0)\">\
         <stop offset=\"NaN\"/><stop offset=\"-9\"/></linearGradient><rect width=\"9\" \
         height=\"9\" fill=\"url(#a)\"/>",
        ),
    ] {
        let ended = made(why, inner);
        assert!(matches!(ended.code, Some(0 | 1)), "{why}: {}", ended.said);
    }
}
