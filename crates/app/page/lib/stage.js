// @ts-check
/** The hopper and its pieces to look at: in three dimensions, or from above and from the side where that cannot be had. */

/** What a frame of the server's answer is: see `FeedReplay` in openapi.json. @typedef {[number, number, number, number, number, number[], number[]]} Frame */
/** @typedef {{show: (a: Frame, b: Frame, part: number) => void, view: (name: string) => void, turn: (across: number, up: number) => void, nearer: (ratio: number) => void, forces: (on: boolean) => void, repaint: () => void, end: () => void, kind: "3d" | "2d"}} Stage */

const PLACES = 1e-4;
const TURNS = 1e-3;
/** Length of the line that stands for a force of one newton, and the longest. */
const METRES_PER_N = 0.006;
const LONGEST_M = 0.12;

/** Colours of the pieces by number, from the page's own. */
const NAMES = ["--blue", "--rust", "--teal", "--plum"];
/** @param {string} name */
const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim() || "#555555";
/** @param {number} piece */
const colour = (piece) => css(NAMES[piece % NAMES.length]);

/** Pieces of a frame with their place between it and the next. @param {Frame} a @param {Frame} b @param {number} part */
function poses(a, b, part) {
  const now = a[5];
  const next = b[5];
  const all = [];
  for (let i = 0; i < now.length; i += 8) {
    let j = -1;
    for (let k = 0; k < next.length; k += 8) if (next[k] === now[i]) j = k;
    const mix = (/** @type {number} */ n) => (j < 0 ? now[i + n] : now[i + n] + part * (next[j + n] - now[i + n]));
    all.push({ piece: now[i], at: [mix(1) * PLACES, mix(2) * PLACES, mix(3) * PLACES], turn: [mix(4), mix(5), mix(6), mix(7)] });
  }
  return all;
}

/** Contacts of a frame. @param {Frame} frame */
export function contacts(frame) {
  const all = [];
  for (let i = 0; i < frame[6].length; i += 7) {
    const [piece, against, x, y, z, push, friction] = frame[6].slice(i, i + 7);
    all.push({ piece, against, toward: [x * TURNS, y * TURNS, z * TURNS], push_n: push / 10, friction_n: friction / 10 });
  }
  return all;
}

/** Lines of the forces: where each presses, and along what. @param {Frame} frame @param {any[]} pieces @param {number[]} radii_m */
function arrows(frame, pieces, radii_m) {
  return contacts(frame).flatMap((c) => {
    const p = pieces.find((q) => q.piece === c.piece);
    if (!p) return [];
    const long = Math.min(LONGEST_M, 0.015 + METRES_PER_N * c.push_n);
    const from = p.at.map((/** @type {number} */ v, /** @type {number} */ i) => v - radii_m[c.piece] * c.toward[i]);
    return [{ from, to: from.map((/** @type {number} */ v, /** @type {number} */ i) => v + long * c.toward[i]) }];
  });
}

/** Can this browser draw in three dimensions? */
function has_webgl() {
  try {
    return Boolean(document.createElement("canvas").getContext("webgl2"));
  } catch {
    return false;
  }
}

/**
 * A stage in a box of the page.
 * @param {HTMLElement} box @param {any} replay
 * @returns {Promise<Stage>}
 */
export async function stage(box, replay) {
  if (has_webgl()) {
    try {
      // Half a megabyte that no other room needs.
      // @ts-ignore
      const three = await import("/vendor/three.module.min.js");
      return solid(three, box, replay);
    } catch {
      box.replaceChildren();
    }
  }
  return flat(box, replay);
}

/** Fixed views: turned about the upright from where the chute leads, and up, in degrees. The way out is on the right. */
const VIEWS = /** @type {Record<string, [number, number]>} */ ({ aslant: [292, 38], top: [270, 89.9], side: [270, 4], chute: [0, 16] });

/**
 * In three dimensions. Drawn only when something changed.
 * @param {any} T @param {HTMLElement} box @param {any} replay
 * @returns {Stage}
 */
function solid(T, box, replay) {
  const renderer = new T.WebGLRenderer({ antialias: true, alpha: true, powerPreference: "low-power" });
  renderer.setPixelRatio(1);
  const canvas = renderer.domElement;
  canvas.setAttribute("aria-hidden", "true");
  box.append(canvas);
  const scene = new T.Scene();
  const camera = new T.PerspectiveCamera(35, 1, 0.01, 20);
  camera.up.set(0, 0, 1);
  scene.add(new T.HemisphereLight(0xffffff, 0x999999, 2.2));
  const sun = new T.DirectionalLight(0xffffff, 1.4);
  sun.position.set(-0.6, 0.8, 2);
  scene.add(sun);
  const hopper = new T.Group();
  hopper.rotation.y = replay.scene.slope_rad;
  scene.add(hopper);
  const ink = () => new T.Color(css("--ink"));
  const s = replay.scene;
  const line_stuff = new T.LineBasicMaterial({ color: ink() });
  const wall_stuff = new T.MeshBasicMaterial({ color: new T.Color(css("--quiet")), transparent: true, opacity: 0.13, side: T.DoubleSide, depthWrite: false });
  const floor_stuff = new T.MeshBasicMaterial({ color: new T.Color(css("--body")), side: T.DoubleSide });
  const points = (/** @type {number[][]} */ list) => list.map((p) => new T.Vector3(...p));
  for (const wall of s.walls) {
    const shape = new T.BufferGeometry().setFromPoints(points(wall.corners_m));
    shape.setIndex(wall.corners_m.slice(2).flatMap((/** @type {any} */ _, /** @type {number} */ i) => [0, i + 1, i + 2]));
    // The floor is drawn as the part within the walls.
    if (wall.side !== -1) {
      hopper.add(new T.Mesh(shape, wall_stuff));
      hopper.add(new T.LineLoop(new T.BufferGeometry().setFromPoints(points(wall.corners_m)), line_stuff));
    }
  }
  const plan = new T.Shape(s.outline_m.map((/** @type {number[]} */ p) => new T.Vector2(p[0], p[1])));
  const floor = new T.Mesh(new T.ShapeGeometry(plan), floor_stuff);
  floor.position.z = -0.001;
  hopper.add(floor);
  /** A round bar between two points. @param {number[][]} ends @param {number} radius @param {any} stuff */
  const bar = (ends, radius, stuff) => {
    const [a, b] = points(ends);
    const mesh = new T.Mesh(new T.CylinderGeometry(radius, radius, Math.max(a.distanceTo(b), 1e-4), 20), stuff);
    mesh.position.copy(a).add(b).multiplyScalar(0.5);
    mesh.quaternion.setFromUnitVectors(new T.Vector3(0, 1, 0), b.clone().sub(a).normalize());
    return mesh;
  };
  const metal = new T.MeshLambertMaterial({ color: new T.Color(css("--quiet")) });
  for (const rod of s.rods) hopper.add(bar(rod.ends_m, rod.radius_m, rod.side === -5 || rod.side === -1 ? metal : wall_stuff));
  for (const ends of s.bands) hopper.add(bar(ends, 0.003, new T.MeshLambertMaterial({ color: new T.Color(css("--teal")) })));
  let arm = null;
  if (s.stirrer) {
    arm = new T.Group();
    arm.position.set(...s.stirrer.hub_m);
    arm.add(bar([[0, 0, 0], [s.stirrer.length_m, 0, 0]], s.stirrer.radius_m, new T.MeshLambertMaterial({ color: ink() })));
    const tip = new T.Mesh(new T.SphereGeometry(s.stirrer.radius_m, 16, 12), new T.MeshLambertMaterial({ color: ink() }));
    tip.position.x = s.stirrer.length_m;
    arm.add(tip);
    hopper.add(arm);
  }
  let roller = null;
  if (s.roller) {
    const [a, b] = s.roller.ends_m;
    roller = new T.Group();
    roller.position.set((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, (a[2] + b[2]) / 2);
    const half = Math.abs(b[1] - a[1]) / 2;
    const stuff = new T.MeshLambertMaterial({ color: new T.Color(css("--quiet")), transparent: true, opacity: 0.75 });
    roller.add(bar([[0, -half, 0], [0, half, 0]], s.roller.radius_m, stuff));
    // Ribs, so that one sees it turn.
    for (let i = 0; i < 3; i++) {
      const angle = (i * 2 * Math.PI) / 3;
      const [x, z] = [Math.cos(angle) * s.roller.radius_m, Math.sin(angle) * s.roller.radius_m];
      roller.add(bar([[x, -half, z], [x, half, z]], 0.003, new T.MeshLambertMaterial({ color: ink() })));
    }
    hopper.add(roller);
  }
  const balls = replay.radii_m.map((/** @type {number} */ r, /** @type {number} */ i) => {
    const group = new T.Group();
    const skin = new T.CanvasTexture(peel(colour(i)));
    skin.colorSpace = T.SRGBColorSpace;
    const ball = new T.Mesh(new T.SphereGeometry(r, 24, 16), new T.MeshLambertMaterial({ map: skin }));
    const tag = new T.CanvasTexture(label(String(i + 1), colour(i)));
    tag.colorSpace = T.SRGBColorSpace;
    const sign = new T.Sprite(new T.SpriteMaterial({ map: tag, depthTest: false }));
    sign.scale.setScalar(0.9 * r);
    group.add(ball, sign);
    group.visible = false;
    hopper.add(group);
    return { group, ball };
  });
  const MOST = 80;
  const needle = new T.CylinderGeometry(0.0022, 0.0022, 1, 6).translate(0, 0.5, 0);
  const needles = new T.InstancedMesh(needle, new T.MeshBasicMaterial({ color: ink(), depthTest: false, transparent: true }), MOST);
  needles.frustumCulled = false;
  needles.renderOrder = 2;
  needles.count = 0;
  hopper.add(needles);

  const xs = s.outline_m.map((/** @type {number[]} */ p) => p[0]);
  const ys = s.outline_m.map((/** @type {number[]} */ p) => p[1]);
  const size = Math.hypot(Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys));
  const middle = new T.Vector3((Math.max(...xs) + Math.min(...xs)) / 2, 0, s.wall_m / 3).applyEuler(hopper.rotation);
  let [around, up] = VIEWS.aslant;
  let far = 1.3 * size;
  let with_forces = false;
  /** @type {[Frame, Frame, number] | null} */
  let last = null;
  let asked = 0;
  const paint = () => {
    asked = 0;
    const wide = box.clientWidth;
    const tall = box.clientHeight;
    if (!wide || !tall) return;
    const now = renderer.getSize(new T.Vector2());
    if (now.x !== wide || now.y !== tall) renderer.setSize(wide, tall);
    camera.aspect = wide / tall;
    camera.updateProjectionMatrix();
    const [a, e] = [(around * Math.PI) / 180, (up * Math.PI) / 180];
    const back = far * Math.max(1, 1.5 / camera.aspect);
    camera.position.set(middle.x + back * Math.cos(e) * Math.cos(a), middle.y + back * Math.cos(e) * Math.sin(a), middle.z + back * Math.sin(e));
    camera.lookAt(middle);
    renderer.render(scene, camera);
    box.dataset.painted = String(Number(box.dataset.painted ?? 0) + 1);
  };
  const repaint = () => (asked ||= requestAnimationFrame(paint));
  const seen = new ResizeObserver(repaint);
  seen.observe(box);
  const turn_to = new T.Quaternion();
  const [from, along, grow, matrix, y_axis] = [new T.Vector3(), new T.Vector3(), new T.Vector3(), new T.Matrix4(), new T.Vector3(0, 1, 0)];
  /** @type {Stage} */
  const made = {
    kind: "3d",
    show(a, b, part) {
      last = [a, b, part];
      const all = poses(a, b, part);
      for (const b of balls) b.group.visible = false;
      for (const p of all) {
        const b = balls[p.piece];
        b.group.visible = true;
        b.group.position.set(p.at[0], p.at[1], p.at[2]);
        b.ball.quaternion.set(p.turn[0], p.turn[1], p.turn[2], p.turn[3]).normalize();
      }
      if (arm) arm.rotation.z = (a[2] + part * (b[2] - a[2])) * TURNS;
      if (roller) roller.rotation.y = -(a[3] + part * (b[3] - a[3])) * TURNS;
      let count = 0;
      if (with_forces) {
        for (const line of arrows(a, all, replay.radii_m)) {
          if (count >= MOST) break;
          from.fromArray(line.from);
          along.fromArray(line.to).sub(from);
          grow.set(1, along.length(), 1);
          turn_to.setFromUnitVectors(y_axis, along.normalize());
          needles.setMatrixAt(count++, matrix.compose(from, turn_to, grow));
        }
        needles.instanceMatrix.needsUpdate = true;
      }
      needles.count = count;
      repaint();
    },
    view(name) {
      [around, up] = VIEWS[name] ?? VIEWS.aslant;
      far = 1.3 * size;
      repaint();
    },
    turn(across, more) {
      around = (around + across) % 360;
      up = Math.min(89.9, Math.max(-5, up + more));
      repaint();
    },
    nearer(ratio) {
      far = Math.min(4 * size, Math.max(0.6 * size, far / ratio));
      repaint();
    },
    forces(on) {
      with_forces = on;
      if (last) made.show(...last);
    },
    repaint,
    end() {
      cancelAnimationFrame(asked);
      seen.disconnect();
      scene.traverse((/** @type {any} */ o) => {
        o.geometry?.dispose();
        for (const m of [o.material].flat()) {
          m?.map?.dispose();
          m?.dispose();
        }
      });
      renderer.dispose();
      renderer.forceContextLoss();
      canvas.remove();
    },
  };
  return made;
}

/** A skin with stripes, so that one sees a piece roll. @param {string} paint */
function peel(paint) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [128, 64];
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.fillStyle = paint;
  pen.fillRect(0, 0, 128, 64);
  pen.fillStyle = "rgb(255 255 255 / .55)";
  for (let i = 0; i < 4; i++) pen.fillRect(32 * i, 0, 5, 64);
  pen.fillRect(0, 29, 128, 6);
  return canvas;
}

/** A number on a disc. @param {string} text @param {string} paint */
function label(text, paint) {
  const canvas = document.createElement("canvas");
  [canvas.width, canvas.height] = [64, 64];
  const pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.fillStyle = css("--sheet");
  pen.strokeStyle = paint;
  pen.lineWidth = 5;
  pen.beginPath();
  pen.arc(32, 32, 28, 0, 7);
  pen.fill();
  pen.stroke();
  pen.fillStyle = css("--ink");
  pen.font = "bold 36px system-ui, sans-serif";
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.fillText(text, 32, 34);
  return canvas;
}

/**
 * From above and from the side, flat.
 * @param {HTMLElement} box @param {any} replay
 * @returns {Stage}
 */
function flat(box, replay) {
  const canvas = document.createElement("canvas");
  canvas.setAttribute("aria-hidden", "true");
  box.append(canvas);
  const s = replay.scene;
  const xs = s.outline_m.map((/** @type {number[]} */ p) => p[0]);
  const ys = s.outline_m.map((/** @type {number[]} */ p) => p[1]);
  const [left, right] = [Math.min(...xs), Math.max(...xs)];
  const [low, high] = [Math.min(...ys), Math.max(...ys)];
  /** @type {[Frame, Frame, number] | null} */
  let last = null;
  let with_forces = false;
  let asked = 0;
  const paint = () => {
    asked = 0;
    const [wide, tall] = [box.clientWidth, box.clientHeight];
    const pen = canvas.getContext("2d");
    if (!pen || !wide || !tall || !last) return;
    [canvas.width, canvas.height] = [wide, tall];
    const [a, b, part] = last;
    const all = poses(a, b, part);
    const top = high - low;
    const side = 1.6 * s.wall_m;
    const per = Math.min((wide - 24) / (right - left), (tall - 60) / (top + side));
    const x = (/** @type {number} */ v) => wide / 2 + per * (v - (left + right) / 2);
    const y = (/** @type {number} */ v) => 24 + per * (high - v);
    const z = (/** @type {number} */ v) => tall - 14 - per * v;
    const ink = css("--ink");
    pen.font = "14px system-ui, sans-serif";
    pen.fillStyle = css("--quiet");
    pen.fillText("from above", 8, 16);
    pen.fillText("from the side", 8, z(side) + 4);
    const path = (/** @type {number[][]} */ list, /** @type {string} */ paint_it, width = 2) => {
      pen.strokeStyle = paint_it;
      pen.lineWidth = width;
      pen.beginPath();
      list.forEach((p, i) => (i ? pen.lineTo(p[0], p[1]) : pen.moveTo(p[0], p[1])));
      pen.stroke();
    };
    path(s.outline_m.map((/** @type {number[]} */ p) => [x(p[0]), y(p[1])]), ink);
    path([[x(left), z(s.wall_m)], [x(left), z(0)], [x(right), z(0)]], ink);
    for (const ends of s.bands) path(ends.map((/** @type {number[]} */ p) => [x(p[0]), y(p[1])]), css("--teal"), 3);
    if (s.stirrer) {
      const angle = (a[2] + part * (b[2] - a[2])) * TURNS;
      const [hx, hy, hz] = s.stirrer.hub_m;
      const tip = [hx + s.stirrer.length_m * Math.cos(angle), hy + s.stirrer.length_m * Math.sin(angle)];
      path([[x(hx), y(hy)], [x(tip[0]), y(tip[1])]], ink, Math.max(3, 2 * per * s.stirrer.radius_m));
      path([[x(hx), z(0)], [x(hx), z(hz)], [x(tip[0]), z(hz)]], ink, 4);
    }
    const ring = (/** @type {number} */ cx, /** @type {number} */ cy, /** @type {number} */ r, /** @type {string} */ paint_it, /** @type {string} */ text) => {
      pen.beginPath();
      pen.arc(cx, cy, r, 0, 7);
      pen.globalAlpha = 0.25;
      pen.fillStyle = paint_it;
      pen.fill();
      pen.globalAlpha = 1;
      pen.strokeStyle = paint_it;
      pen.lineWidth = 3;
      pen.stroke();
      pen.fillStyle = ink;
      pen.textAlign = "center";
      pen.fillText(text, cx, cy + 5);
      pen.textAlign = "start";
    };
    if (s.roller) {
      const [e, f] = s.roller.ends_m;
      ring(x(e[0]), z(e[2]), per * s.roller.radius_m, css("--quiet"), "");
      path([[x(e[0]), y(e[1])], [x(f[0]), y(f[1])]], css("--quiet"), 4);
    }
    for (const p of all) {
      const r = per * replay.radii_m[p.piece];
      ring(x(p.at[0]), y(p.at[1]), r, colour(p.piece), String(p.piece + 1));
      ring(x(p.at[0]), z(p.at[2]), r, colour(p.piece), String(p.piece + 1));
    }
    if (with_forces) {
      for (const l of arrows(a, all, replay.radii_m)) {
        path([[x(l.from[0]), y(l.from[1])], [x(l.to[0]), y(l.to[1])]], ink, 3);
        path([[x(l.from[0]), z(l.from[2])], [x(l.to[0]), z(l.to[2])]], ink, 3);
      }
    }
    box.dataset.painted = String(Number(box.dataset.painted ?? 0) + 1);
  };
  const repaint = () => (asked ||= requestAnimationFrame(paint));
  const seen = new ResizeObserver(repaint);
  seen.observe(box);
  return {
    kind: "2d",
    show(a, b, part) {
      last = [a, b, part];
      repaint();
    },
    view() {},
    turn() {},
    nearer() {},
    forces(on) {
      with_forces = on;
      repaint();
    },
    repaint,
    end() {
      cancelAnimationFrame(asked);
      seen.disconnect();
      canvas.remove();
    },
  };
}
