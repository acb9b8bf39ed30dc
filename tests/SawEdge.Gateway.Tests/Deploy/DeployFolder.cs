using SawEdge.Gateway.Tests.Configuration;

namespace SawEdge.Gateway.Tests.Deploy;

/// <summary>The folder <c>deploy</c> of the repository that these tests were built from.</summary>
internal static class DeployFolder
{
    /// <summary>The full path of a file in it.</summary>
    public static string File(params string[] names) => Path.Combine([SchemaTests.Root, "deploy", .. names]);

    /// <summary>A folder with the program as a publish leaves one: <c>sawedge</c>, which starts the real one.</summary>
    /// <param name="folder">Where.</param>
    /// <param name="version">What it calls itself in place of its own version; null: that.</param>
    public static void Publish(string folder, string? version = null)
    {
        Directory.CreateDirectory(folder);
        var program = Path.Combine(folder, "sawedge");
        var dotnet = Path.GetFileNameWithoutExtension(Environment.ProcessPath) == "dotnet" ? Environment.ProcessPath! : "dotnet";
        System.IO.File.WriteAllText(program, $"#!/bin/sh\n{(version is null ? "" : $"[ \"$1\" = --version ] && echo {version} && exit 0\n")}exec {dotnet} {Path.Combine(AppContext.BaseDirectory, "sawedge.dll")} \"$@\"\n");
        System.IO.File.WriteAllText(Path.Combine(folder, "libe_sqlite3.so"), "a library");
        System.IO.File.WriteAllText(Path.Combine(folder, "sawedge.cdx.json"), "{}");
        if (!OperatingSystem.IsWindows())
            System.IO.File.SetUnixFileMode(program, UnixFileMode.UserRead | UnixFileMode.UserWrite | UnixFileMode.UserExecute);
    }
}
