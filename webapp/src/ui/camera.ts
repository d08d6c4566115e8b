// The rear camera: opened on demand, closed when out of sight, its lamp where
// it has one that can be switched.
import type { Complaint } from "./notice";

export interface Camera {
  close(): void;
  /** Null where this camera's lamp cannot be switched. */
  lamp: ((on: boolean) => Promise<void>) | null;
}

/** Whether the camera may be opened without a question to the person. */
export async function cameraAllowed(): Promise<boolean> {
  try {
    const status = await navigator.permissions.query({ name: "camera" as PermissionName });
    return status.state === "granted";
  } catch {
    return false; // some browsers do not know this permission: ask first
  }
}

/** Whether this browser gives a page the camera at all: only to a secure address. */
export function hasCamera(): boolean {
  return Boolean(navigator.mediaDevices?.getUserMedia);
}

export async function openCamera(video: HTMLVideoElement): Promise<Camera> {
  if (!hasCamera()) throw new DOMException("", "SecurityError");
  const stream = await navigator.mediaDevices.getUserMedia({
    video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, height: { ideal: 720 } },
  });
  video.srcObject = stream;
  await video.play();
  const track = stream.getVideoTracks()[0];
  const can = track?.getCapabilities?.() as { torch?: boolean } | undefined;
  return {
    close() {
      for (const t of stream.getTracks()) t.stop();
      video.srcObject = null;
    },
    lamp: track && can?.torch ? (on) => track.applyConstraints({ advanced: [{ torch: on } as MediaTrackConstraintSet] }) : null,
  };
}

/** Why the camera did not open, and what to do. */
export function cameraComplaint(error: unknown): Complaint {
  const type = "Type the code that stands on the label; it does the same.";
  switch (error instanceof DOMException ? error.name : "") {
    case "NotAllowedError":
      return {
        text: "it is not allowed here",
        hint: `To allow it, open the browser's site settings (the sign left of the address), set Camera to Allow, and come back. ${type}`,
      };
    case "NotFoundError":
    case "OverconstrainedError":
      return { text: "this device has none that can be used", hint: type };
    case "NotReadableError":
    case "AbortError":
      return { text: "another program holds it", hint: `Close it and press Start camera. ${type}` };
    case "SecurityError":
      return { text: "the browser gives it only to a secure address: https, or this same machine", hint: type };
  }
  return { text: "it did not start", hint: type };
}
