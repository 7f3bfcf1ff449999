//! `kitwright stock`: the label stocks, and alignment pages.

use std::fmt::Write;
use std::path::Path;

use serde::Serialize;

use super::{Outcome, complain, placing, print};
use crate::cli::{Laying, Stock as Args};
use crate::fault::Fault;
use crate::imposition::{Feed, Placing};
use crate::lab::read_lab;
use crate::stock::{Stock, builtin, builtin_names};
use crate::typeset::{About, Press, Sides, Template, typeset};
use crate::words::languages;
use crate::workshop::find_stock;
use crate::{input, output};

pub(super) fn stock(args: &Args) -> Outcome {
    let Some(name) = &args.stock else {
        let mut text = String::new();
        for stock in builtin_names().into_iter().filter_map(builtin) {
            let _ = writeln!(text, "{:<14} {}", stock.name, stock.describe());
        }
        return print(&text);
    };
    let stock = match find_stock(name) {
        Ok(stock) => stock,
        Err(faults) => return complain(&faults),
    };
    let Some(path) = &args.ruler else {
        return print(&format!("{:<14} {}\n", stock.name, stock.describe()));
    };
    let placing = measured(args);
    match placing.and_then(|placing| ruler(&stock, &placing, path)) {
        Ok(()) => print(&format!(
            "wrote {}: print it at 100 % on plain paper and hold it against a sheet;\n\
             if the grid is, say, 0.5 mm too far left and 1.2 mm too low, write in lab.toml\n\n\
             [printers.{}]\nnudge_x = 0.5\nnudge_y = -1.2\n\n\
             added to what stands there, and print it again with --printer\n",
            path.display(),
            args.printer.as_deref().unwrap_or("back")
        )),
        Err(faults) => complain(&faults),
    }
}

/// How the printer that is named lays labels.
fn measured(args: &Args) -> Result<Placing, Vec<Fault>> {
    if args.printer.is_none() {
        return Ok(Placing::default());
    }
    let source = input::read_text(&args.lab).map_err(|fault| vec![fault])?;
    let lab = read_lab(&source, &languages())?;
    let laying = Laying { printer: args.printer.clone(), ..Laying::default() };
    placing(&laying, Some(&lab), None)
}

/// Data of the alignment page, lengths in millimetres.
#[derive(Serialize)]
#[serde(rename_all = "kebab-case")]
struct Ruler {
    name: String,
    words: String,
    page_width: f64,
    page_height: f64,
    label_width: f64,
    label_height: f64,
    cells: Vec<Corner>,
    foot_first: bool,
    nudge: Corner,
}

#[derive(Serialize)]
struct Corner {
    x: f64,
    y: f64,
}

fn ruler(stock: &Stock, placing: &Placing, path: &Path) -> Result<(), Vec<Fault>> {
    let (width, height) = stock.page_size();
    let cells = (0..stock.cells_per_page())
        .map(|index| stock.cell(index))
        .map(|cell| Corner { x: cell.x.to_mm(), y: cell.y.to_mm() })
        .collect();
    let data = Ruler {
        name: stock.name.clone(),
        words: stock.describe(),
        page_width: width.to_mm(),
        page_height: height.to_mm(),
        label_width: stock.label_width.to_mm(),
        label_height: stock.label_height.to_mm(),
        cells,
        foot_first: placing.feed == Feed::FootFirst,
        nudge: Corner { x: placing.nudge.0.to_mm(), y: placing.nudge.1.to_mm() },
    };
    let about = About {
        identity: format!("ruler/{}", stock.name),
        title: format!("Alignment page {}", stock.name),
        sides: Sides::One,
    };
    let bytes = typeset(&Press::new(Vec::new())?, Template::Ruler, &data, None, &about)?;
    output::write_new(path, &bytes).map_err(|fault| vec![fault])
}
