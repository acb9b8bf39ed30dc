using System.Reflection;

namespace SawEdge.Gateway.Formats;

/// <summary>The version of the program, as files and answers state it.</summary>
public static class ProgramVersion
{
    /// <summary>Three numbers: <c>0.1.0</c>.</summary>
    public static string Text { get; } = typeof(ProgramVersion).Assembly.GetCustomAttribute<AssemblyInformationalVersionAttribute>()?.InformationalVersion.Split('+')[0] ?? "unknown";
}
