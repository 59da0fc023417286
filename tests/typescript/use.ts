import type { components, operations } from "./api";
type Request = components["schemas"]["SwingRequest"];
const minimal: Request = {
  layout: "coco_17",
  fps: 60,
  keypoints: [[[640, 210], [612, 480, 0.9], null]],
};
const full: Request = {
  ...minimal,
  fps: null,
  timestamps: [0, 0.1],
  playback_speed: 0.25,
  coordinates: "normalised",
  image_size: { width: 1080, height: 1920 },
  club_points: { grip: [[1, 2]], clubhead: [null, [1, 2, 0.5]] },
  view: "face_on",
  handedness: "right",
  intent: "rehearsal",
  club: "wedge",
  client_reference: "lesson 12, swing 3",
};
const asItCame: Request = {
  fps: 60,
  format: "coco_annotations",
  keypoints: { images: [], annotations: [] },
};
const fault: components["schemas"]["FaultName"] = "trail_heel_kick";
type Answer = operations["analyzeSwing"]["responses"][200]["content"]["application/json"];
export function told(answer: Answer): string[] {
  return answer.findings.filter((f) => f.fault === fault).map((f) => f.title);
}
type Kept = operations["createSwing"]["responses"][201]["content"]["application/json"];
export function toldOfKept(kept: Kept): string[] {
  return told(kept.analysis);
}
export const requests: Request[] = [minimal, full, asItCame];
