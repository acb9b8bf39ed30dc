using System.Runtime.Versioning;
using System.Security.AccessControl;
using System.Security.Principal;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>Who may read a file, in words for whoever can change that.</summary>
internal static class FileRights
{
    // Secrets that a container's engine hands over: it gives everybody in the container the right, and nobody else is there.
    private const string HandedOver = "/run/secrets/";

    // Everyone, Authenticated Users, Users (Microsoft, "Well-known SIDs").
    private static readonly string[] EverybodyOnWindows = ["S-1-1-0", "S-1-5-11", "S-1-5-32-545"];

    /// <summary>That a file is not there, or may not be read.</summary>
    /// <param name="path">Full path of a file that does not seem to be there.</param>
    /// <exception cref="UnauthorizedAccessException">It may be there: this user may not look.</exception>
    /// <exception cref="IOException">It cannot be told.</exception>
    public static string Missing(string path)
    {
        try
        {
            // That it exists is only told to those who may look into its folder; opening it tells the two apart.
            File.OpenHandle(path).Dispose();
        }
        catch (Exception e) when (e is FileNotFoundException or DirectoryNotFoundException)
        {
        }

        return $"there is no file {path}";
    }

    /// <summary>That this user may not read a file, and what helps.</summary>
    public static string Denied(string path) => OperatingSystem.IsWindows()
        ? $"{path} cannot be read by the user {Environment.UserName}; give that user the right to read it"
        : $"{path} cannot be read by the user {Environment.UserName}; give the gateway's user the right (chgrp sawedge and chmod 640; its folder needs chmod g+x), or run this as that user (sudo -u sawedge)";

    /// <summary>What is wrong with a file that holds a secret and that everybody on the machine may read, and what helps; null: nothing.</summary>
    public static string? OpenToAll(string path) =>
        !path.StartsWith(HandedOver, StringComparison.Ordinal) && IsReadByAll(path) ? $"{path} may be read by everybody on this machine; take that right away ({HowToClose(path)})" : null;

    /// <summary>Whether everybody on the machine may read a file; false where it cannot be told.</summary>
    public static bool IsReadByAll(string path)
    {
        try
        {
            return OperatingSystem.IsWindows() ? IsGrantedToAll(path) : (File.GetUnixFileMode(path) & UnixFileMode.OtherRead) != 0;
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            // It was read a moment ago, and is looked at again at the next change.
            return false;
        }
    }

    /// <summary>The command that takes the right to read a file from everybody.</summary>
    public static string HowToClose(string path) => OperatingSystem.IsWindows()
        ? $"icacls \"{path}\" /inheritance:d /remove:g *{string.Join(" *", EverybodyOnWindows)}"
        : "chmod o-r";

    [SupportedOSPlatform("windows")]
    private static bool IsGrantedToAll(string path) => new FileInfo(path).GetAccessControl(AccessControlSections.Access)
        .GetAccessRules(includeExplicit: true, includeInherited: true, typeof(SecurityIdentifier))
        .OfType<FileSystemAccessRule>()
        .Any(rule => rule.AccessControlType == AccessControlType.Allow && rule.FileSystemRights.HasFlag(FileSystemRights.ReadData) && EverybodyOnWindows.Contains(rule.IdentityReference.Value));
}
