// The part of clipper-lib 6.4.2 that this folder uses; the package ships no types.
declare module "clipper-lib" {
  export interface IntPoint {
    X: number;
    Y: number;
  }
  export type Path = IntPoint[];
  export type Paths = Path[];

  export interface PolyNode {
    Contour(): Path;
    Childs(): PolyNode[];
    IsHole(): boolean;
  }

  const ClipperLib: {
    Clipper: {
      new (): {
        AddPaths(paths: Paths, type: number, closed: boolean): boolean;
        Execute(clip: number, solution: Paths | PolyNode, subject: number, clipFill: number): boolean;
      };
      Area(path: Path): number;
    };
    ClipperOffset: {
      new (
        miterLimit: number,
        arcTolerance: number,
      ): {
        AddPaths(paths: Paths, join: number, end: number): void;
        Execute(solution: Paths, delta: number): void;
      };
    };
    PolyTree: new () => PolyNode;
    ClipType: { ctIntersection: number; ctUnion: number; ctDifference: number };
    PolyType: { ptSubject: number; ptClip: number };
    PolyFillType: { pftEvenOdd: number; pftNonZero: number };
    JoinType: { jtRound: number };
    EndType: { etClosedPolygon: number; etOpenRound: number };
  };
  export default ClipperLib;
}
