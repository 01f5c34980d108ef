//! Interleaved timing by the processor time of one thread.

use cpu_time::ThreadTime;

/// A job and the times it took, seconds for each item.
pub struct Job<'a> {
    /// What it is called.
    pub name: String,
    /// Items that one run handles.
    pub items: usize,
    run: Box<dyn FnMut() + Send + 'a>,
    seconds: Vec<f64>,
}

impl<'a> Job<'a> {
    /// A job that handles `items` at each run.
    pub fn new(name: impl Into<String>, items: usize, run: impl FnMut() + Send + 'a) -> Job<'a> {
        Job {
            name: name.into(),
            items,
            run: Box::new(run),
            seconds: Vec::new(),
        }
    }

    /// Items in a second, median of the rounds.
    pub fn rate(&self) -> f64 {
        let mut sorted = self.seconds.clone();
        sorted.sort_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).map_or(f64::NAN, |s| 1.0 / s)
    }
}

/// Runs the jobs in turn for a number of rounds, after one round that is not counted.
pub fn interleave(jobs: &mut [Job], rounds: usize) {
    for round in 0..=rounds {
        for job in jobs.iter_mut() {
            let start = ThreadTime::now();
            (job.run)();
            let seconds = start.elapsed().as_secs_f64() / job.items as f64;
            if round > 0 {
                job.seconds.push(seconds);
            }
        }
    }
}
