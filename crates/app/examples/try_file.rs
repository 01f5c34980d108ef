use arcwright::project;
fn main() {
    for a in std::env::args().skip(1) {
        match project::read(std::path::Path::new(&a)) {
            Ok(l) => println!("{a} OK\n{}", project::render(&l.notes)),
            Err(p) => println!("{}", project::render(&p)),
        }
    }
}
