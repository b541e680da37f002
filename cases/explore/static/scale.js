// The colours of temperature: from deep blue-green over clay to pale straw, lightness rising evenly in OKLab (Ottosson, 2020).

const ENDS = [ // lightness, chroma, hue [deg]
  [0.20, 0.050, 230], [0.33, 0.075, 225], [0.46, 0.070, 200], [0.58, 0.075, 100], [0.70, 0.125, 68], [0.81, 0.140, 76], [0.92, 0.095, 94],
];

function linear(l, a, b) {
  const [x, y, z] = [l + 0.3963377774 * a + 0.2158037573 * b, l - 0.1055613458 * a - 0.0638541728 * b, l - 0.0894841775 * a - 1.2914855480 * b].map((v) => v ** 3);
  return [4.0767416621 * x - 3.3077115913 * y + 0.2309699292 * z, -1.2684380046 * x + 2.6097574011 * y - 0.3413193965 * z, -0.0041960863 * x - 0.7034186147 * y + 1.7076147010 * z];
}

const shown = (v) => 255 * (v <= 0.0031308 ? 12.92 * Math.max(v, 0) : 1.055 * Math.min(v, 1) ** (1 / 2.4) - 0.055);

export const STEPS = 256;
export const TABLE = Array.from({ length: STEPS }, (_, k) => {
  const place = (k / (STEPS - 1)) * (ENDS.length - 1);
  const n = Math.min(Math.floor(place), ENDS.length - 2);
  const polar = ([l, c, h]) => [l, c * Math.cos((h * Math.PI) / 180), c * Math.sin((h * Math.PI) / 180)];
  const [low, high] = [polar(ENDS[n]), polar(ENDS[n + 1])];
  return linear(...low.map((v, i) => v + (place - n) * (high[i] - v))).map((v) => Math.round(shown(v)));
});

export const PACKED = Uint32Array.from(TABLE, ([r, g, b]) => (255 << 24) | (b << 16) | (g << 8) | r);
export const css = (share) => `rgb(${TABLE[Math.max(0, Math.min(STEPS - 1, Math.round(share * (STEPS - 1))))].join(",")})`;
