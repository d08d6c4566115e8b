// The camera picture and the loop that looks for a code in it.
import { useSignal } from "@preact/signals";
import { useEffect, useRef } from "preact/hooks";
import { cameraAllowed, cameraComplaint, hasCamera, openCamera, type Camera } from "./camera";
import { openDecoder } from "./decoder";
import { Icon } from "./icon";
import { Failed, type Complaint } from "./notice";
import { Photo } from "./photo";
import { unlockSound } from "./signals";

const pauseMS = 120; // between looks: quick for a person, easy on the battery
const againMS = 3000; // before the same unusable text is reported again

interface ViewfinderProps {
  onText: (text: string) => Promise<boolean>; // whether that was it
}

/** The live camera, or a photo where there is none to be had. */
export function Viewfinder({ onText }: ViewfinderProps) {
  return hasCamera() ? <Live onText={onText} /> : <StillOnly onText={onText} />;
}

function StillOnly({ onText }: ViewfinderProps) {
  return (
    <div class="panel">
      <p>Without encryption the browser shows no live picture here. A photo of the label from the camera app does as well: it is read on this device and not kept. Typing the code is as good.</p>
      <Photo main onText={onText} />
    </div>
  );
}

function Live({ onText }: ViewfinderProps) {
  const video = useRef<HTMLVideoElement>(null);
  const wanted = useSignal(false);
  const running = useSignal(false);
  const complaint = useSignal<Complaint | null>(null);
  const lamp = useSignal<Camera["lamp"]>(null);
  const lit = useSignal(false);
  const dark = useSignal(false); // the lamp did not obey

  useEffect(() => {
    void cameraAllowed().then((allowed) => allowed && (wanted.value = true));
  }, []);

  useEffect(() => {
    if (!wanted.value) return;
    let stop: (() => void) | null = null;
    const start = () => {
      if (stop || document.visibilityState !== "visible" || !video.current) return;
      stop = look(video.current, onText, {
        opened: (camera) => {
          running.value = true;
          complaint.value = null;
          lamp.value = camera.lamp;
          dark.value = false;
        },
        failed: (error) => {
          complaint.value = cameraComplaint(error);
          wanted.value = false;
        },
      });
    };
    const end = () => {
      stop?.();
      stop = null;
      running.value = false;
      lamp.value = null;
      lit.value = false;
    };
    const seen = () => (document.visibilityState === "visible" ? start() : end());
    document.addEventListener("visibilitychange", seen);
    start();
    return () => {
      document.removeEventListener("visibilitychange", seen);
      end();
    };
  }, [wanted.value]);

  const turn = async () => {
    try {
      await lamp.value?.(!lit.value);
      lit.value = !lit.value;
    } catch {
      lamp.value = null;
      dark.value = true;
    }
  };
  return (
    <>
      <div class="viewfinder" hidden={!wanted.value}>
        <video ref={video} muted playsInline aria-label="Camera picture" />
        {lamp.value && (
          <button type="button" class="button small" aria-pressed={lit.value} onClick={turn}>
            <Icon name="light" />
            Lamp
          </button>
        )}
      </div>
      <p role="status" class={wanted.value ? "" : "unseen"}>
        {running.value ? "Hold the label's square inside the corners." : wanted.value ? "Starting the camera …" : ""}
        {dark.value && " The lamp of this camera cannot be switched."}
      </p>
      {!wanted.value && (
        <div class="panel">
          <p>The camera reads the square on the label. The picture stays on this device and is not kept.</p>
          <button
            type="button"
            class="button main"
            onClick={() => {
              unlockSound();
              complaint.value = null;
              wanted.value = true;
            }}
          >
            Start camera
          </button>
        </div>
      )}
      <Failed what="No camera" complaint={complaint.value} />
      {complaint.value && <Photo onText={onText} />}
    </>
  );
}

interface Heard {
  opened(camera: Camera): void;
  failed(error: unknown): void;
}

/** Opens the camera and looks until a text is taken or the returned function is called. */
function look(video: HTMLVideoElement, onText: (text: string) => Promise<boolean>, heard: Heard): () => void {
  let on = true;
  let camera: Camera | null = null;
  void (async () => {
    try {
      const loading = openDecoder(); // while the camera opens
      loading.catch(() => undefined); // reported by the await below
      camera = await openCamera(video);
      if (!on) return camera.close();
      const decoder = await loading;
      heard.opened(camera);
      let last = { text: "", at: 0 };
      while (on) {
        for (const text of await decoder.detect(video)) {
          if (!on || (text === last.text && Date.now() - last.at < againMS)) continue;
          last = { text, at: Date.now() };
          if (await onText(text)) on = false;
        }
        await new Promise((done) => setTimeout(done, pauseMS));
      }
    } catch (error) {
      camera?.close();
      if (on) heard.failed(error);
    }
  })();
  return () => {
    on = false;
    camera?.close();
  };
}
