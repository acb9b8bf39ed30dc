using System.Diagnostics;

namespace SawEdge.Gateway.Telemetry;

/// <summary>
/// The stretches of time that traces are made of: a start, a cycle from its end until it is stored, a request to a destination, a message.
/// Seldom ones only, never one a frame. As long as nobody listens each is null and costs nothing.
/// </summary>
public static class Spans
{
    /// <summary>Name of the source.</summary>
    public const string Name = "SawEdge";

    private static readonly ActivitySource Source = new(Name);

    /// <summary>Begins a span that belongs to no other.</summary>
    /// <param name="name">What is done.</param>
    /// <param name="kind">Which side of a call it is.</param>
    /// <param name="began">When it began; now unless told.</param>
    public static Activity? Root(string name, ActivityKind kind = ActivityKind.Internal, DateTimeOffset began = default)
    {
        if (!Source.HasListeners())
            return null;

        // Loops inherit the span in which they were begun, and would go on adding to it for years.
        Activity.Current = null;
        return Source.StartActivity(name, kind, parentContext: default, startTime: began);
    }

    /// <summary>Begins a span as a part of the present one.</summary>
    /// <param name="name">What is done.</param>
    public static Activity? Part(string name) => Source.StartActivity(name);

    /// <summary>Says that a span went wrong.</summary>
    /// <param name="span">The span, or null.</param>
    /// <param name="why">Why.</param>
    public static void Failed(this Activity? span, string why) => span?.SetStatus(ActivityStatusCode.Error, why);
}
