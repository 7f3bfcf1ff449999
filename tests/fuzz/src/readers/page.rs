//! What a page of a PDF draws: the input is the page's own program, in a sound file
//! with a font, an image, a form that draws itself, patterns and a soft mask.

use super::pdf;

pub const WORDS: &str = include_str!("../../words/page.txt");

/// What stands in the file before the page's own program.
const RESOURCES: &str = "\
<< /Font << /F1 5 0 R /F3 6 0 R >> /XObject << /Me 7 0 R /Im 8 0 R >>
/Pattern << /P1 9 0 R /P2 10 0 R >> /Shading << /Sh 11 0 R >>
/ExtGState << /GS << /ca 0.5 /BM /Multiply /SMask << /S /Luminosity /G 7 0 R >> >> >> >>";

pub fn read(data: &[u8]) {
    if data.len() <= super::MOST {
        pdf::pages(&file(data));
    }
}

/// A PDF of one page that draws `program`.
fn file(program: &[u8]) -> Vec<u8> {
    let form = "/Type /XObject /Subtype /Form /BBox [0 0 612 792] \
                /Group << /S /Transparency >>";
    let tiling =
        "/PatternType 1 /PaintType 1 /TilingType 1 /BBox [0 0 9 9] /XStep 9 /YStep 9";
    let shading = "<< /ShadingType 2 /ColorSpace /DeviceRGB /Coords [0 0 9 9] /Function \
                   << /FunctionType 2 /Domain [0 1] /N 1 /C0 [0 0 0] /C1 [1 1 1] >> >>";
    let objects: Vec<Vec<u8>> = vec![
        b"<< /Type /Catalog /Pages 2 0 R >>".to_vec(),
        b"<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_vec(),
        format!(
            "<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Contents 4 0 R \
             /Resources {RESOURCES} >>"
        )
        .into_bytes(),
        stream("", program),
        b"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica >>".to_vec(),
        b"<< /Type /Font /Subtype /Type3 /FontBBox [0 0 9 9] /FontMatrix [.1 0 0 .1 0 0] \
          /FirstChar 48 /LastChar 49 /Widths [9 9] /CharProcs << /a 12 0 R /b 7 0 R >> \
          /Encoding << /Differences [48 /a /b] >> >>"
            .to_vec(),
        stream(&format!("{form} /Resources {RESOURCES}"), b"q /Me Do /F3 9 Tf BT (01) Tj ET Q"),
        stream(
            "/Type /XObject /Subtype /Image /Width 2 /Height 2 /BitsPerComponent 8 \
             /ColorSpace /DeviceGray",
            b"\x00\xFF\xFF\x00",
        ),
        stream(
            &format!("/Type /Pattern {tiling} /Resources {RESOURCES}"),
            b"/Pattern cs /P1 scn 0 0 9 9 re f",
        ),
        format!("<< /Type /Pattern /PatternType 2 /Shading {shading} >>").into_bytes(),
        shading.as_bytes().to_vec(),
        stream("", b"9 0 0 0 9 9 d1 0 0 9 9 re f"),
    ];
    let mut bytes = b"%PDF-1.7\n".to_vec();
    let mut places = Vec::new();
    for (index, object) in objects.iter().enumerate() {
        places.push(bytes.len());
        bytes.extend(format!("{} 0 obj\n", index + 1).into_bytes());
        bytes.extend(object);
        bytes.extend(b"\nendobj\n");
    }
    let start = bytes.len();
    let count = objects.len() + 1;
    bytes.extend(format!("xref\n0 {count}\n0000000000 65535 f \n").into_bytes());
    for place in places {
        bytes.extend(format!("{place:010} 00000 n \n").into_bytes());
    }
    let end =
        format!("trailer\n<< /Size {count} /Root 1 0 R >>\nstartxref\n{start}\n%%EOF\n");
    bytes.extend(end.into_bytes());
    bytes
}

fn stream(about: &str, body: &[u8]) -> Vec<u8> {
    let mut bytes =
        format!("<< {about} /Length {} >>\nstream\n", body.len()).into_bytes();
    bytes.extend(body);
    bytes.extend(b"\nendstream");
    bytes
}
