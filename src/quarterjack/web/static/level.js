// The level line: how loud the last seconds were, as one thin line.

const SECONDS = 12;
const QUIETEST_DB = -72;
const WIDTH = 360;
const HEIGHT = 48;

export class LevelLine {
  constructor(polyline) {
    this.polyline = polyline;
    this.points = [];
  }

  add(peak, seconds) {
    const db = Math.max(QUIETEST_DB, 20 * Math.log10(Math.max(peak, 1e-6)));
    this.points.push([seconds, db]);
    while (this.points.length && this.points[0][0] < seconds - SECONDS) this.points.shift();
    this.polyline.setAttribute(
      "points",
      this.points
        .map(([at, level]) => {
          const x = WIDTH - ((seconds - at) / SECONDS) * WIDTH;
          const y = (level / QUIETEST_DB) * HEIGHT;
          return `${x.toFixed(1)},${y.toFixed(1)}`;
        })
        .join(" "),
    );
  }

  clear() {
    this.points = [];
    this.polyline.setAttribute("points", "");
  }
}
