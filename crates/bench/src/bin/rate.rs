//! Rates on demand, one round at a time, for a program that times other code in between.
//!
//! Reads commands from standard input, a line each, and answers each with one line:
//!
//! ```text
//! throws SET COUNT FILE            writes the set's twelve columns, little-endian f64; answers COUNT
//! arrive SET COUNT LAW KERNEL FILE writes x y z of every crossing, NaN without; answers COUNT
//! round SET COUNT LAW KERNEL       flies the set; answers seconds of this thread for each throw
//! flops SET COUNT LAW KERNEL       answers the floating-point operations of the kernel for each throw
//! peak                             answers the floating-point operations that this thread can do in a second
//! SET: N or W, LAW: const or cg
//! KERNEL: exact or fast, for throws about one with +alike at the end; or (for a round) plain H for
//!         fourth-order code with a step of H seconds
//! ```
#![allow(clippy::print_stdout)] // its output is its purpose

use arcwright_bench::kernel::{KERNELS, Kernel};
use arcwright_bench::peak::flops_per_second;
use arcwright_bench::rival::Throw;
use arcwright_bench::sets::{Set, Variant, scatter, sweep};
use arcwright_model::flight::batch::Arrival;
use cpu_time::ThreadTime;
use std::hint::black_box;
use std::io::{BufRead, Write};

/// Throws in a round of the kernel, in as many batches as that takes, so that a round is long enough for the clock.
const ROUND: usize = 1 << 17;
/// Throws in a round of plain code.
const SINGLES: usize = 4096;

fn main() {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build();
    let served = match pool {
        Ok(pool) => pool.install(serve),
        Err(error) => Err(format!("no thread pool: {error}")),
    };
    if let Err(error) = served {
        println!("error {error}");
        std::process::exit(1);
    }
}

/// Sets made so far: a sweep takes longer to draw than to fly.
#[derive(Default)]
struct Sets(Vec<Set>);

impl Sets {
    fn get(&mut self, name: &str, count: usize) -> Result<&Set, String> {
        let place = self.0.iter().position(|s| s.name == name && s.len() == count);
        let place = match place {
            Some(place) => place,
            None => {
                self.0.push(match name {
                    "N" => scatter(count, 1),
                    "W" => sweep(count, 2),
                    _ => return Err(format!("no set {name}: N or W")),
                });
                self.0.len() - 1
            }
        };
        self.0.get(place).ok_or_else(|| "no set".to_owned())
    }
}

fn serve() -> Result<(), String> {
    let mut sets = Sets::default();
    let mut arrivals: Vec<Arrival> = Vec::new();
    for line in std::io::stdin().lock().lines() {
        let line = line.map_err(|e| e.to_string())?;
        println!("{}", answer(&line, &mut sets, &mut arrivals)?);
        std::io::stdout().flush().map_err(|e| e.to_string())?;
    }
    Ok(())
}

fn number<T: std::str::FromStr>(word: &str) -> Result<T, String> {
    word.parse().map_err(|_| format!("{word} is not a number"))
}

fn law(word: &str) -> Result<Variant, String> {
    match word {
        "const" => Ok(Variant::Constant),
        "cg" => Ok(Variant::Curve),
        _ => Err(format!("no drag law {word}: const or cg")),
    }
}

fn kernel(word: &str) -> Result<Kernel, String> {
    let found = KERNELS.into_iter().find(|kernel| kernel.word == word);
    found.ok_or_else(|| format!("no kernel {word}: exact or fast, either with +alike"))
}

fn answer(line: &str, sets: &mut Sets, arrivals: &mut Vec<Arrival>) -> Result<String, String> {
    let words: Vec<&str> = line.split_whitespace().collect();
    match *words.as_slice() {
        ["throws", set, count, file] => {
            let set = sets.get(set, number(count)?)?;
            write(file, set.columns.iter().flatten())?;
            Ok(set.len().to_string())
        }
        ["arrive", set, count, variant, word, file] => {
            let set = sets.get(set, number(count)?)?;
            let flown = kernel(word)?.fly(&set.batch(law(variant)?));
            let flown = flown.map_err(|e| format!("{e:?}"))?;
            write(file, flown.iter().flat_map(|a| &a.position_m))?;
            Ok(flown.len().to_string())
        }
        ["peak"] => Ok(format!("{:e}", flops_per_second())),
        ["flops", set, count, variant, word] => {
            let set = sets.get(set, number(count)?)?;
            Ok(kernel(word)?.flops(&set.batch(law(variant)?)).to_string())
        }
        ["round", set, count, variant, word] => {
            let (set, kernel) = (sets.get(set, number(count)?)?, kernel(word)?);
            let batch = set.batch(law(variant)?);
            *arrivals = kernel.fly(&batch).map_err(|e| format!("{e:?}"))?;
            let batches = (ROUND / set.len().max(1)).max(1);
            let start = ThreadTime::now();
            for _ in 0..batches {
                let flown = kernel.fly_into(&black_box(batch), black_box(arrivals));
                flown.map_err(|e| format!("{e:?}"))?;
            }
            Ok(format!(
                "{:e}",
                start.elapsed().as_secs_f64() / (batches * set.len()) as f64
            ))
        }
        ["round", set, count, variant, "plain", step] => {
            let (set, variant, step) = (sets.get(set, number(count)?)?, law(variant)?, number(step)?);
            let count = SINGLES.min(set.len());
            let throws: Vec<Throw> = (0..count)
                .map(|i| Throw::new(&set.row(i), variant, set.plane_z_m))
                .collect();
            let start = ThreadTime::now();
            for throw in &throws {
                black_box(throw.fly_plain(step));
            }
            Ok(format!("{:e}", start.elapsed().as_secs_f64() / count as f64))
        }
        _ => Err(format!("unknown command: {line}")),
    }
}

fn write<'a>(file: &str, numbers: impl Iterator<Item = &'a f64>) -> Result<(), String> {
    let bytes: Vec<u8> = numbers.flat_map(|x| x.to_le_bytes()).collect();
    std::fs::write(file, bytes).map_err(|e| format!("{file}: {e}"))
}
