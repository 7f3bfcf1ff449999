//! Shapes to PDF bytes with krilla.

use krilla::Document;
use krilla::SerializeSettings;
use krilla::color::luma;
use krilla::geom::{Path, PathBuilder, Point, Rect, Size, Transform};
use krilla::image::{BitsPerComponent, CustomImage, Image, ImageColorspace};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, LineCap, Stroke, StrokeDash};
use krilla::surface::Surface;

use crate::page::Shape;
use crate::paper::Pages;
use crate::text::Fonts;

/// A QR code: one byte a module.
#[derive(Clone, Hash)]
struct Modules {
    side: u32,
    pixels: Vec<u8>,
}

impl CustomImage for Modules {
    fn color_channel(&self) -> &[u8] {
        &self.pixels
    }

    fn alpha_channel(&self) -> Option<&[u8]> {
        None
    }

    fn bits_per_component(&self) -> BitsPerComponent {
        BitsPerComponent::Eight
    }

    fn size(&self) -> (u32, u32) {
        (self.side, self.side)
    }

    fn icc_profile(&self) -> Option<&[u8]> {
        None
    }

    fn color_space(&self) -> ImageColorspace {
        ImageColorspace::Luma
    }
}

/// Where the logo's strokes begin and what they are: that of the demo laboratory, 48
/// wide and 24 high.
fn logo() -> Path {
    let mut path = PathBuilder::new();
    path.move_to(2.0, 20.0);
    path.line_to(46.0, 20.0);
    path.move_to(6.0, 20.0);
    path.line_to(6.0, 14.0);
    path.quad_to(24.0, -4.0, 42.0, 14.0);
    path.line_to(42.0, 20.0);
    for x in [18.0, 30.0] {
        path.move_to(x, 20.0);
        path.line_to(x, 10.0);
    }
    path.finish().expect("a path")
}

pub fn pdf((size, pages): Pages, fonts: &Fonts, title: &str) -> Vec<u8> {
    let mut document = Document::new_with(SerializeSettings {
        enable_tagging: false,
        xmp_metadata: false,
        ..SerializeSettings::default()
    });
    document
        .set_metadata(Metadata::new().title(title.to_owned()).language("en".to_owned()));
    for shapes in pages {
        let settings = PageSettings::from_wh(size.0, size.1).expect("a size");
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        for shape in shapes {
            draw(&mut surface, shape, fonts);
        }
        surface.finish();
        page.finish();
    }
    document.finish().expect("a sound document")
}

fn draw(surface: &mut Surface, shape: Shape, fonts: &Fonts) {
    match shape {
        Shape::Text { x, y, size, run, glyphs } => {
            surface.set_stroke(None);
            surface.set_fill(Some(fill(0)));
            let font = fonts.font(run.style);
            let glyphs = &run.glyphs[glyphs];
            surface.draw_glyphs(
                Point::from_xy(x, y),
                glyphs,
                font,
                &run.text,
                size,
                false,
            );
        }
        Shape::Line { from, to, width, dash } => {
            let mut path = PathBuilder::new();
            path.move_to(from.0, from.1);
            path.line_to(to.0, to.1);
            let mut stroke = stroke(width);
            if let Some(dash) = dash {
                stroke.line_cap = LineCap::Round;
                stroke.dash = Some(StrokeDash { array: dash.to_vec(), offset: 0.0 });
            }
            outline(surface, &path.finish().expect("a line"), stroke);
        }
        Shape::Box { x, y, w, h, stroke: width, radius } => {
            surface.set_fill(Some(fill(255)));
            surface.set_stroke(Some(stroke(width)));
            surface.draw_path(&rounded(x, y, w, h, radius));
        }
        Shape::Image { x, y, side, modules, pixels } => {
            let image = Modules { side: modules, pixels: pixels.to_vec() };
            let image = Image::from_custom(image, false).expect("a sound image");
            surface.push_transform(&Transform::from_translate(x, y));
            surface.draw_image(image, Size::from_wh(side, side).expect("a size"));
            surface.pop();
        }
        Shape::Logo { x, y } => {
            surface.push_transform(&Transform::from_row(0.7, 0.0, 0.0, 0.7, x, y));
            outline(surface, &logo(), stroke(2.4));
            surface.pop();
        }
    }
}

fn outline(surface: &mut Surface, path: &Path, stroke: Stroke) {
    surface.set_fill(None);
    surface.set_stroke(Some(stroke));
    surface.draw_path(path);
}

fn fill(shade: u8) -> Fill {
    Fill {
        paint: luma::Color::new(shade).into(),
        opacity: NormalizedF32::ONE,
        rule: FillRule::NonZero,
    }
}

fn stroke(width: f32) -> Stroke {
    Stroke { paint: luma::Color::new(0).into(), width, ..Stroke::default() }
}

fn rounded(x: f32, y: f32, w: f32, h: f32, r: f32) -> Path {
    let mut path = PathBuilder::new();
    if r == 0.0 {
        path.push_rect(Rect::from_xywh(x, y, w, h).expect("a box"));
        return path.finish().expect("a box");
    }
    // How far the handles of a quarter circle reach.
    let k = r * 0.447_715;
    path.move_to(x + r, y);
    path.line_to(x + w - r, y);
    path.cubic_to(x + w - k, y, x + w, y + k, x + w, y + r);
    path.line_to(x + w, y + h - r);
    path.cubic_to(x + w, y + h - k, x + w - k, y + h, x + w - r, y + h);
    path.line_to(x + r, y + h);
    path.cubic_to(x + k, y + h, x, y + h - k, x, y + h - r);
    path.line_to(x, y + r);
    path.cubic_to(x, y + k, x + k, y, x + r, y);
    path.close();
    path.finish().expect("a box")
}
