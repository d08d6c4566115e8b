// The few signs the app uses, drawn for it. Always beside a word, so hidden
// from screen readers.
const shapes = {
  // An uncertainty interval on its needle: the mark of the house.
  brand: <path d="M3 5v14M29 5v14M3 12h26M16 4l6 8-6 8-6-8z" />,
  back: <path d="M15 4l-8 8 8 8" />,
  next: <path d="M9 4l8 8-8 8" />,
  scan: <path d="M3 8V3h5M16 3h5v5M21 16v5h-5M8 21H3v-5M7 12h10" />,
  add: <path d="M12 4v16M4 12h16" />,
  board: <path d="M3 20h18M6 20v-7M12 20V4M18 20v-11" />,
  up: <path d="M12 20V5M6 11l6-6 6 6" />,
  done: <path d="M4 13l5 5L20 6" />,
  alert: <path d="M12 3l10 18H2zM12 10v5M12 17.5v1" />,
  info: <path d="M12 2l10 10-10 10L2 12zM12 11v6M12 7v1" />,
  offline: <path d="M4 4l16 16M4 15h4v5H4zM10 10h4M10 14v6h4M16 6h4v9" />,
  light: <path d="M8 3h8l-2 6v12h-4V9zM8 6h8" />,
};

export type IconName = keyof typeof shapes;

export function Icon({ name }: { name: IconName }) {
  return (
    <svg
      class="icon"
      viewBox={name === "brand" ? "0 0 32 24" : "0 0 24 24"}
      width="24"
      height="24"
      fill="none"
      stroke="currentColor"
      stroke-width="2.25"
      stroke-linejoin="round"
      aria-hidden="true"
    >
      {shapes[name]}
    </svg>
  );
}
