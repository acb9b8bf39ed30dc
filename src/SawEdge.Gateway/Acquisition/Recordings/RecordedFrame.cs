using System.Diagnostics.CodeAnalysis;
using SawEdge.Core.Signals;

namespace SawEdge.Gateway.Acquisition.Recordings;

/// <summary>One row of a recording: the frame and the saw it belongs to.</summary>
public struct RecordedFrame
{
    private SignalFrame _frame;

    /// <summary>Name of the saw, cleaned.</summary>
    public string Saw { readonly get; set; }

    /// <summary>The frame, in place.</summary>
    [UnscopedRef]
    public ref SignalFrame Frame => ref _frame;
}
