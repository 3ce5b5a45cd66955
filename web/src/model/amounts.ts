// Figures as a maker reads them. Lengths come in mm and are shown in the maker's units.

export type Units = "mm" | "in";

const MM_PER_INCH = 25.4; // exactly: ISO 80000-3

/** A number to three significant digits, without trailing zeros; thousands parted by a thin space. */
export function digits(value: number, most = 3): string {
  if (!Number.isFinite(value)) return "–";
  const size = Math.abs(value);
  const places = size === 0 ? 0 : Math.max(0, most - 1 - Math.floor(Math.log10(size)));
  const [whole, part] = size.toFixed(Math.min(places, 6)).split(".");
  const parted = whole!.replace(/\B(?=(\d{3})+$)/g, whole!.length > 4 ? "\u202f" : "");
  const rest = part?.replace(/0+$/, "");
  return `${value < 0 ? "−" : ""}${parted}${rest ? `.${rest}` : ""}`;
}

/** A figure with its unit, in the maker's units. */
export function amount(value: number | null | undefined, unit: string, units: Units): string {
  if (value == null) return "not computed";
  if (unit === "s") return clock(value);
  if (unit === "1" || unit === "") return digits(value);
  if (units === "in") {
    if (unit === "mm") return `${digits(value / MM_PER_INCH)} in`;
    if (unit === "mm/min") return `${digits(value / MM_PER_INCH)} in/min`;
  }
  return unit === "°" ? `${digits(value)}°` : `${digits(value)}\u00a0${unit}`;
}

/** Seconds as a person says them: `40 s`, `25 min`, `2 h 05`, `3 d 4 h`. */
export function clock(seconds: number): string {
  if (!Number.isFinite(seconds)) return "–";
  if (seconds < 90) return `${digits(seconds)} s`;
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `${minutes} min`;
  const hours = Math.floor(minutes / 60);
  if (hours < 24) return `${hours} h ${String(minutes % 60).padStart(2, "0")}`;
  const all = Math.round(seconds / 3600);
  return `${Math.floor(all / 24)} d ${all % 24} h`;
}

/** Seconds as a stopwatch shows them: `0:07`, `12:30`, `1:02:30`. */
export function stopwatch(seconds: number): string {
  const all = Math.floor(seconds + 1e-6);
  const [hours, minutes, rest] = [Math.floor(all / 3600), Math.floor(all / 60) % 60, String(all % 60).padStart(2, "0")];
  return hours > 0 ? `${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
}

/** The size of a file. */
export function fileSize(bytes: number): string {
  if (bytes < 1000) return `${bytes} bytes`;
  return bytes < 1e6 ? `${digits(bytes / 1e3)} kB` : `${digits(bytes / 1e6)} MB`;
}
