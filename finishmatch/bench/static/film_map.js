// A tap on the outline of a panel means the place under the finger, to the millimetre; without this module, and by
// keys, the middle of the zone that is pressed. The build or the defect is then typed for that place.

function placed(svg, event) {
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const { width, height } = svg.viewBox.baseVal;
  const high = Number(svg.dataset.high); // mm; what is very flat is drawn higher than it is
  const within = (value, most) => Math.min(Math.max(Math.round(value), 0), Math.floor(most));
  return [within(at.x, width), within((at.y / height) * high, high)];
}

function setUp() {
  const svg = document.querySelector(".panel-map");
  svg?.addEventListener("click", (event) => {
    const zone = event.target.closest("a");
    if (!zone || event.detail === 0) return; // by keys
    event.preventDefault();
    const to = new URL(zone.getAttribute("href"), location.href);
    const [x, y] = placed(svg, event);
    to.searchParams.set("x", x);
    to.searchParams.set("y", y);
    location.assign(to);
  });
}

document.addEventListener("bench:shown", setUp);
setUp();
